import { Judge, type JudgeFiles } from '../meaning/judge.ts';
import { JudgingListener } from '../listening/judgingListener.ts';
import type { Listener } from '../listening/listener.ts';
import { createListener } from '../listening/offlineListener.ts';
import type { HearingOptions } from '../listening/segmentListener.ts';
import { TogetherListener } from '../listening/togetherListener.ts';
import type { Engine } from '../settings/choice.ts';
import { createStreamingListener } from '../streaming/streamingListener.ts';
import { streamingModelOf } from '../streaming/voskModel.ts';

/** A model in memory. */
export interface EngineModel {
  /** What runs it. */
  readonly engine: Engine;
  /** Its files and what of packages the engine needs, by their names. */
  readonly files: ReadonlyMap<string, Uint8Array>;
}

/** How each engine opens a model's files. */
const OPENING: Readonly<
  Record<Engine, (files: EngineModel['files'], hearing: HearingOptions) => Promise<Listener>>
> = {
  moonshine: (model, hearing) => createListener({ ...hearing, model }),
  vosk: async (files, hearing) => createStreamingListener({ ...hearing, model: streamingModelOf(files) }),
};

export type EngineOptions = HearingOptions & {
  readonly model: EngineModel;
  /** The learned judge's files; without them the rules mark alone. */
  readonly judge?: JudgeFiles;
};

/**
 * Opens the engine that runs a model.
 *
 * @throws {Error} the model is not what it should be
 */
export async function openEngine({ judge, onEvent, ...options }: EngineOptions): Promise<Listener> {
  if (!judge) return openUnjudged({ ...options, onEvent });
  return JudgingListener.open(
    (told) => openUnjudged({ ...options, onEvent: told }),
    await Judge.open(judge),
    onEvent,
  );
}

function openUnjudged({ model, ...hearing }: Omit<EngineOptions, 'judge'>): Promise<Listener> {
  return OPENING[model.engine](model.files, hearing);
}

/**
 * Opens what listens with some models: the engine of one, or the engines of two at once, of which the first settles the words.
 *
 * @throws {Error} a model is not what it should be
 */
export function openEngines(
  models: readonly EngineModel[],
  { judge, ...hearing }: Omit<EngineOptions, 'model'>,
): Promise<Listener> {
  const judging = judge && { judge };
  const [settled, quick] = models;
  if (!settled) throw new Error('There is no model to listen with.');
  if (!quick) return openEngine({ ...hearing, ...judging, model: settled });
  return TogetherListener.open(
    (onEvent) => openEngine({ ...hearing, model: quick, onEvent }),
    (onEvent) => openEngine({ ...hearing, ...judging, model: settled, partials: false, onEvent }),
    hearing.onEvent,
  );
}
