import type { Listener } from './listener.ts';
import { createListener } from './offlineListener.ts';
import type { HearingOptions } from './segmentListener.ts';
import type { ModelFiles } from './speechModel.ts';
import { TogetherListener } from './togetherListener.ts';
import { createStreamingListener, type StreamingModel } from './streamingListener.ts';

/** A model in memory, by the engine that runs it. */
export type EngineModel =
  ({ readonly engine: 'moonshine' } & ModelFiles) | ({ readonly engine: 'vosk' } & StreamingModel);

export type EngineOptions = HearingOptions & { readonly model: EngineModel };

/**
 * Opens the engine that runs a model.
 *
 * @throws {Error} the model is not what it should be
 */
export function openEngine({ model, ...hearing }: EngineOptions): Promise<Listener> {
  return model.engine === 'moonshine'
    ? createListener({ ...hearing, model })
    : createStreamingListener({ ...hearing, model });
}

/**
 * Opens what listens with some models: the engine of one, or the engines of two at once, of which the first settles the words.
 *
 * @throws {Error} a model is not what it should be
 */
export function openEngines(models: readonly EngineModel[], hearing: HearingOptions): Promise<Listener> {
  const [settled, quick] = models;
  if (!settled) throw new Error('There is no model to listen with.');
  if (!quick) return openEngine({ ...hearing, model: settled });
  return TogetherListener.open(
    (onEvent) => openEngine({ ...hearing, model: quick, onEvent }),
    (onEvent) => openEngine({ ...hearing, model: settled, partials: false, onEvent }),
    hearing.onEvent,
  );
}
