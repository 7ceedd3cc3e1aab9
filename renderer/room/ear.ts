import type { ModelStanding, Settings } from '../../app/host/api.ts';
import type { EngineModel } from '../../app/engines/engines.ts';
import type { Listener, ListenerEvent } from '../../app/listening/listener.ts';
import { RevivingListener } from '../../app/engines/revivingListener.ts';
import { TogetherListener } from '../../app/listening/togetherListener.ts';
import type { JudgeFiles } from '../../app/meaning/judge.ts';
import { createWorkerListener, startListenWorker } from '../../app/engines/workerListener.ts';
import { enginesOf, RUNS_ON, type Engine, type Listening } from '../../app/settings/choice.ts';
import { api } from '../api.ts';
import { chosenOf, modelOf, nameOf } from '../models.ts';

/** The listener, opened once and used by one rehearsal or sound check after the other. */
export interface Ear {
  /** Engine and model, as records name it. */
  readonly name: string;
  readonly listener: Listener;
  /** Who is told what is heard from now on. */
  onEvent: (event: ListenerEvent) => void;
  close(): void;
}

let opened: { readonly name: string; readonly ear: Promise<Ear> } | null = null;

/**
 * Opens the ear that the settings ask for, or answers the one that is open.
 *
 * @throws {Error} a model is not here, is damaged, or the host is gone
 */
export async function openEar(settings: Settings): Promise<Ear> {
  const models = await api.models();
  return openChoice(chosenOf(settings, models), settings, models);
}

/** The same for a choice. A failure is forgotten, so that the next call tries again. */
export function openChoice(
  choice: Listening,
  settings: Settings,
  models: readonly ModelStanding[],
): Promise<Ear> {
  const name = nameOf(settings, models, choice);
  if (opened?.name === name) return opened.ear;
  const before = opened;
  const ear = openListener(choice, settings, models);
  opened = { name, ear };
  void before?.ear.then((old) => old.close()).catch(() => undefined);
  ear.catch(() => {
    if (opened?.ear === ear) opened = null;
  });
  return ear;
}

async function openListener(
  choice: Listening,
  settings: Settings,
  models: readonly ModelStanding[],
): Promise<Ear> {
  const ear = { onEvent: (() => undefined) as Ear['onEvent'] };
  const onEvent = (event: ListenerEvent): void => ear.onEvent(event);
  const parts: RevivingListener[] = [];
  const open = async (engine: Engine, how: Part, told: typeof onEvent): Promise<Listener> => {
    const model = modelOf(settings, models, engine);
    if (!model) throw new Error(`There is no model for the engine ${engine}.`);
    const part = await openRevived(model, how, told);
    parts.push(part);
    return part;
  };
  const [settled, quick] = enginesOf(choice);
  const listener = quick
    ? await TogetherListener.open(
        (told) => open(quick, { partials: true, judged: false }, told),
        (told) => open(settled, { partials: false, judged: true }, told),
        onEvent,
      )
    : await open(settled, { partials: true, judged: true }, onEvent);
  const close = (): void => parts.forEach((part) => part.close());
  return Object.assign(ear, { name: nameOf(settings, models, choice), listener, close });
}

/** What an engine does beside another: whether it tells of speech that goes on, and whether its utterances are judged. */
interface Part {
  readonly partials: boolean;
  readonly judged: boolean;
}

async function openRevived(
  model: ModelStanding,
  { partials, judged }: Part,
  told: (event: ListenerEvent) => void,
): Promise<RevivingListener> {
  return RevivingListener.open(async (onEvent, onLost) => {
    // Fetched for each worker: it keeps what it is given.
    const [files, detector, judge] = await Promise.all([
      filesOf(model),
      api.modelFile('detector', 'silero_vad_v5.onnx'),
      judged ? judgeFiles() : null,
    ]);
    const worker = startListenWorker(model.engine);
    const close = (): void => worker.terminate();
    return createWorkerListener(
      worker,
      { model: files, detector, ...(judge && { judge }), partials, onEvent },
      onLost,
    ).then(
      (inner) => ({ listener: inner, close }),
      (error: unknown) => {
        close();
        throw error;
      },
    );
  }, told);
}

async function judgeFiles(): Promise<JudgeFiles> {
  const [network, tokenizer] = await Promise.all([
    api.modelFile('judge', 'judge.onnx'),
    api.modelFile('judgeTokenizer', 'judge.tokenizer.json'),
  ]);
  return { network, tokenizer };
}

async function filesOf({ engine, id, files }: ModelStanding): Promise<EngineModel> {
  const wanted = files.map((name): readonly [part: string, name: string] => [id, name]);
  const runsOn = RUNS_ON[engine];
  if (runsOn) wanted.push(runsOn);
  const read = wanted.map(async ([part, name]) => [name, await api.modelFile(part, name)] as const);
  return { engine, files: new Map(await Promise.all(read)) };
}
