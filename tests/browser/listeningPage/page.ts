import type { ListenerEvent } from '../../../app/listening/listener.ts';
import { openMicrophone } from '../../../app/listening/microphone.ts';
import { createWorkerListener, startListenWorker } from '../../../app/listening/workerListener.ts';

/** What the test asks of this page and reads from it. */
export interface ListeningPage {
  readonly events: ListenerEvent[];
  /** Loads the model and listens to the microphone for so many seconds of sound. */
  listen(seconds: number): Promise<void>;
}

async function bytesOf(url: string): Promise<Uint8Array<ArrayBuffer>> {
  const response = await fetch(url);
  if (!response.ok) throw new Error(`${url}: ${response.status}`);
  return new Uint8Array(await response.arrayBuffer());
}

const events: ListenerEvent[] = [];

const page: ListeningPage = {
  events,
  async listen(seconds) {
    const [encoder, decoder, tokenizer, detector] = await Promise.all(
      [
        'moonshine-tiny-en/encoder_model.ort',
        'moonshine-tiny-en/decoder_model_merged.ort',
        'moonshine-tiny-en/tokenizer.bin',
        'detector/silero_vad_v5.onnx',
      ].map((name) => bytesOf(`/models/${name}`)),
    );
    const listener = await createWorkerListener(startListenWorker('moonshine'), {
      model: { engine: 'moonshine', encoder: encoder!, decoder: decoder!, tokenizer: tokenizer! },
      detector: detector!,
      partials: true,
      onEvent: (event) => events.push(event),
    });
    await listener.start({ phrases: ['call light within reach'] });
    let left = seconds * 16_000;
    await new Promise<void>((done, failed) => {
      openMicrophone((samples) => {
        if (left <= 0) return;
        left -= samples.length;
        listener.feed(samples).catch(failed);
        if (left <= 0) done();
      }).catch(failed);
    });
    await listener.stop();
  },
};

Object.assign(window, { page });
