import type { Utterance } from '../rehearsal/utterance.ts';
import { beamSearch, greedy } from './beamSearch.ts';
import { biasOf, PhraseBias } from './bias.ts';
import { type Listener, type ListenerEvent, type Vocabulary } from './listener.ts';
import { FRAME_SAMPLES, Silero } from './silero.ts';
import { SoundBuffer } from './soundBuffer.ts';
import { SpeechDetector, type Detection, type Segment } from './speechDetector.ts';
import { SpeechModel, type ModelFiles } from './speechModel.ts';
import { EDGE_UNCERTAINTY, spreadWords } from './wordTimes.ts';

export interface ListenerOptions {
  readonly model: ModelFiles;
  /** Silero's voice activity model, version 5. */
  readonly detector: Uint8Array;
  /** Receives every event, in order. */
  readonly onEvent: (event: ListenerEvent) => void;
  /** Whether speech going on is recognised as it grows. Costs about as much again as the utterances themselves. */
  readonly partials?: boolean;
  /** Threads of the runtime, 1 by default. More need SharedArrayBuffer: a cross-origin isolated page, or Node. */
  readonly threads?: number;
}

/** Seconds of new speech after which a partial result is worth another decoding. */
const PARTIAL_EVERY = 0.6;

/** Seconds of sound kept for {@link Listener.pinpoint}: some utterances, 2 MB. */
const HELD = 40;

/**
 * A listener that runs wholly on this machine: speech detection, then an encoder-decoder model on each stretch of
 * speech.
 *
 * @throws {Error} a model file is not what it should be
 */
export async function createListener(options: ListenerOptions): Promise<Listener> {
  const threads = options.threads ?? 1;
  const model = await SpeechModel.open(options.model, threads);
  const silero = await Silero.open(options.detector, threads);
  return new OfflineListener(model, silero, options.onEvent, options.partials ?? false);
}

class OfflineListener implements Listener {
  private readonly sound = new SoundBuffer();
  private bias = new PhraseBias([]);
  private detector = new SpeechDetector();
  /** Samples not yet handed to the detector: less than one frame. */
  private rest = new Float32Array(0);
  private nextId = 0;
  private partialAt = 0;
  /** Calls are worked off one after the other: the models hold state. */
  private queue: Promise<void> = Promise.resolve();

  constructor(
    private readonly model: SpeechModel,
    private readonly silero: Silero,
    private readonly onEvent: (event: ListenerEvent) => void,
    private readonly partials: boolean,
  ) {}

  start(vocabulary: Vocabulary): Promise<void> {
    return this.inTurn(() => {
      this.bias = biasOf(vocabulary.phrases, this.model.tokens);
      this.detector = new SpeechDetector();
      this.silero.reset();
      this.sound.clear();
      this.rest = new Float32Array(0);
      this.nextId = 0;
      this.partialAt = 0;
    });
  }

  feed(samples: Float32Array): Promise<void> {
    // The caller may use its array again as soon as this returns.
    const own = samples.map((x) => (Number.isFinite(x) ? Math.max(-1, Math.min(1, x)) : 0));
    return this.inTurn(() => this.take(own));
  }

  async pinpoint(utterance: Utterance): Promise<Utterance> {
    return utterance;
  }

  stop(): Promise<void> {
    return this.inTurn(async () => {
      // Silence fills the last frame.
      if (this.rest.length > 0) await this.take(new Float32Array(FRAME_SAMPLES - this.rest.length));
      for (const detection of this.detector.flush()) await this.follow(detection);
    });
  }

  private async take(samples: Float32Array): Promise<void> {
    this.sound.append(samples);
    const waiting = new Float32Array(this.rest.length + samples.length);
    waiting.set(this.rest);
    waiting.set(samples, this.rest.length);
    let at = 0;
    for (; at + FRAME_SAMPLES <= waiting.length; at += FRAME_SAMPLES) {
      const probability = await this.silero.probability(waiting.subarray(at, at + FRAME_SAMPLES));
      for (const detection of this.detector.push(probability)) await this.follow(detection);
    }
    this.rest = waiting.slice(at);
    if (this.partials) await this.sendPartial();
    const open = this.detector.openFrom ?? Infinity;
    this.sound.dropBefore(Math.min(open, this.sound.seconds - HELD));
  }

  private async follow(detection: Detection): Promise<void> {
    if (detection.type === 'onset') {
      this.onEvent({ type: 'speech', at: detection.start });
      this.partialAt = detection.start;
      return;
    }
    const utterance = await this.recognise(detection.segment);
    if (utterance) this.onEvent({ type: 'utterance', utterance });
  }

  private async recognise(segment: Segment): Promise<Utterance | null> {
    const sound = await this.model.encode(this.sound.slice(segment.from, segment.to));
    const { ids, logProbability } = await beamSearch(this.model, sound, this.bias);
    const text = this.model.tokens.decode(ids);
    if (text === '') return null;
    return {
      id: this.nextId++,
      text,
      start: segment.start,
      end: segment.end,
      uncertainty: EDGE_UNCERTAINTY,
      confidence: Math.exp(logProbability / (ids.length + 1)),
      words: spreadWords(text, segment),
    };
  }

  private async sendPartial(): Promise<void> {
    const from = this.detector.openFrom;
    const now = this.sound.seconds;
    if (from === null || now - this.partialAt < PARTIAL_EVERY) return;
    this.partialAt = now;
    const sound = await this.model.encode(this.sound.slice(from, now));
    const text = this.model.tokens.decode((await greedy(this.model, sound)).ids);
    if (text !== '') this.onEvent({ type: 'partial', text, start: from, end: now });
  }

  /** Runs what is asked after everything asked before. An engine that fails says so as an event. */
  private inTurn(work: () => void | Promise<void>): Promise<void> {
    this.queue = this.queue.then(work).catch((error: unknown) => {
      const reason = error instanceof Error ? error.message : String(error);
      this.onEvent({
        type: 'trouble',
        trouble: { kind: 'engine', message: `Some sound could not be recognised: ${reason}` },
      });
    });
    return this.queue;
  }
}
