import type { ModelStanding, Settings } from '../app/host/api.ts';
import type { EngineModel } from '../app/listening/engines.ts';
import type { Listener, ListenerEvent } from '../app/listening/listener.ts';
import { RevivingListener } from '../app/listening/revivingListener.ts';
import { unpackVoskModel } from '../app/listening/voskModel.ts';
import { createWorkerListener, startListenWorker } from '../app/listening/workerListener.ts';
import { api } from './api.ts';

type Engine = Settings['engine'];

/** The listener, opened once and used by one rehearsal or sound check after the other. */
export interface Ear {
  /** Engine and model, as records name it. */
  readonly name: string;
  readonly listener: Listener;
  /** Who is told what is heard from now on. */
  onEvent: (event: ListenerEvent) => void;
  close(): void;
}

/** The model an engine listens with: the first of its models that is here, or else the first; null where it has none. */
export function modelOf(models: readonly ModelStanding[], engine: Engine): ModelStanding | null {
  const own = models.filter((model) => model.engine === engine);
  return own.find(({ installed }) => installed === 'installed') ?? own[0] ?? null;
}

let opened: { readonly engine: Engine; readonly ear: Promise<Ear> } | null = null;

/**
 * Opens the ear, or answers the one that is open. A failure is forgotten, so that the next call tries again.
 *
 * @throws {Error} the engine's model is not here, is damaged, or the host is gone
 */
export function openEar(engine: Engine): Promise<Ear> {
  if (opened?.engine !== engine) {
    const before = opened;
    const ear = openListener(engine);
    opened = { engine, ear };
    void before?.ear.then((old) => old.close()).catch(() => undefined);
    ear.catch(() => {
      if (opened?.ear === ear) opened = null;
    });
  }
  return opened!.ear;
}

async function openListener(engine: Engine): Promise<Ear> {
  const model = modelOf(await api.models(), engine);
  if (!model) throw new Error(`There is no model for the engine ${engine}.`);
  const ear = { onEvent: (() => undefined) as Ear['onEvent'] };
  const listener = await RevivingListener.open(
    async (onEvent, onLost) => {
      // Fetched for each worker: it keeps what it is given.
      const [files, detector] = await Promise.all([
        filesOf(engine, model),
        api.modelFile('detector', 'silero_vad_v5.onnx'),
      ]);
      const worker = startListenWorker(engine);
      const close = (): void => worker.terminate();
      const options = { model: files, detector, partials: true, onEvent };
      return createWorkerListener(worker, options, onLost).then(
        (inner) => ({ listener: inner, close }),
        (error: unknown) => {
          close();
          throw error;
        },
      );
    },
    (event) => ear.onEvent(event),
  );
  return Object.assign(ear, { name: `${engine}/${model.id}`, listener, close: () => listener.close() });
}

async function filesOf(engine: Engine, { id, files }: ModelStanding): Promise<EngineModel> {
  if (engine === 'vosk') {
    const [archive, runtime] = await Promise.all([
      api.modelFile(id, files[0]!),
      api.modelFile('kaldi', 'vosk.js'),
    ]);
    return { engine, runtime, files: unpackVoskModel(archive) };
  }
  const [encoder, decoder, tokenizer] = await Promise.all([
    api.modelFile(id, 'encoder_model.ort'),
    api.modelFile(id, 'decoder_model_merged.ort'),
    api.modelFile(id, 'tokenizer.bin'),
  ]);
  return { engine, encoder, decoder, tokenizer };
}
