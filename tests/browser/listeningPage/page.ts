import type { ListenerEvent } from '../../../app/listening/listener.ts';
import { openMicrophone } from '../../../app/sound/microphone.ts';
import { RevivingListener } from '../../../app/engines/revivingListener.ts';
import { createWorkerListener, startListenWorker } from '../../../app/engines/workerListener.ts';

/** What the test asks of this page and reads from it. */
export interface ListeningPage {
  readonly events: ListenerEvent[];
  /** Loads the model and listens to the microphone for so many seconds of sound. */
  listen(seconds: number): Promise<void>;
  /**
   * Has Kaldi hear the sound at /said.f32, in a worker that is killed once so many seconds of it were fed and given up three
   * seconds later. Answers how many workers there were.
   *
   * @throws {Error} the archive at `model` cannot be opened
   */
  hearKilled(model: string, after: number): Promise<number>;
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
    const names = ['encoder_model.ort', 'decoder_model_merged.ort', 'tokenizer.bin'];
    const files = names.map(
      async (name) => [name, await bytesOf(`/models/moonshine-tiny-en/${name}`)] as const,
    );
    const listener = await createWorkerListener(startListenWorker('moonshine'), {
      model: { engine: 'moonshine', files: new Map(await Promise.all(files)) },
      detector: await bytesOf('/models/detector/silero_vad_v5.onnx'),
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
  async hearKilled(model, after) {
    const workers: Worker[] = [];
    const listener = await RevivingListener.open(
      async (onEvent, onLost) => {
        const [runtime, archive, detector] = await Promise.all(
          ['kaldi/vosk.js', model, 'detector/silero_vad_v5.onnx'].map((name) => bytesOf(`/models/${name}`)),
        );
        const worker = startListenWorker('vosk');
        workers.push(worker);
        const options = {
          model: {
            engine: 'vosk' as const,
            files: new Map([
              ['vosk.js', runtime!],
              [model, archive!],
            ]),
          },
          detector: detector!,
          partials: true,
          onEvent,
        };
        // On a busy machine a good worker may be slow to answer, and must not be taken for a dead one.
        const inner = await createWorkerListener(worker, options, onLost, 6000);
        return { listener: inner, close: () => worker.terminate() };
      },
      (event) => events.push(event),
    );
    await listener.start({ phrases: [] });
    const said = new Float32Array((await bytesOf('/said.f32')).buffer);
    for (let at = 0; at < said.length; at += 1600) {
      if (at === after * 16_000) workers[0]!.terminate();
      await listener.feed(said.subarray(at, at + 1600));
    }
    await listener.stop();
    listener.close();
    return workers.length;
  },
};

Object.assign(window, { page });
