import type { Listener, ListenerEvent } from '../app/listening/listener.ts';
import { createWorkerListener, startListenWorker } from '../app/listening/workerListener.ts';
import { api } from './api.ts';

/** The model the room listens with. */
export const MODEL = 'moonshine-tiny-en';
export const ENGINE = `moonshine/${MODEL}`;

/** The listener, opened once and used by one rehearsal or sound check after the other. */
export interface Ear {
  readonly listener: Listener;
  /** Who is told what is heard from now on. */
  onEvent: (event: ListenerEvent) => void;
}

let opening: Promise<Ear> | null = null;

/**
 * Opens the ear, or answers the one that is open. A failure is forgotten, so that the next call tries again.
 *
 * @throws {Error} the model is not here, is damaged, or the host is gone
 */
export function openEar(): Promise<Ear> {
  opening ??= load().catch((error: unknown) => {
    opening = null;
    throw error;
  });
  return opening;
}

async function load(): Promise<Ear> {
  const [encoder, decoder, tokenizer, detector] = await Promise.all([
    api.modelFile(MODEL, 'encoder_model.ort'),
    api.modelFile(MODEL, 'decoder_model_merged.ort'),
    api.modelFile(MODEL, 'tokenizer.bin'),
    api.modelFile('detector', 'silero_vad_v5.onnx'),
  ]);
  const nobody = (): void => undefined;
  const ear: { listener: Listener | null; onEvent: Ear['onEvent'] } = { listener: null, onEvent: nobody };
  const worker = startListenWorker();
  const listener = await createWorkerListener(worker, {
    model: { encoder, decoder, tokenizer },
    detector,
    partials: true,
    onEvent: (event) => ear.onEvent(event),
  }).catch((error: unknown) => {
    worker.terminate();
    throw error;
  });
  return Object.assign(ear, { listener });
}
