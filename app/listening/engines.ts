import type { Listener } from './listener.ts';
import { createListener } from './offlineListener.ts';
import type { HearingOptions } from './segmentListener.ts';
import type { ModelFiles } from './speechModel.ts';
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
