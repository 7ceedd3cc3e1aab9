import { messageOf } from '../faults/faults.ts';
import type { Utterance } from '../language/utterance.ts';
import type { Listener, ListenerEvent, Vocabulary } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { FRAME_SAMPLES, type Silero } from '../sound/silero.ts';
import { SoundBuffer } from '../sound/soundBuffer.ts';
import { SpeechDetector, type Detection, type Segment } from '../sound/speechDetector.ts';

/** What every engine is opened with, besides its model. */
export interface HearingOptions {
  /** Silero's voice activity model, version 5. */
  readonly detector: Uint8Array;
  /** Receives every event, in order. */
  readonly onEvent: (event: ListenerEvent) => void;
  /** Whether speech going on is told as it grows. */
  readonly partials?: boolean;
}

/**
 * What the engines share: calls are worked off in turn, speech detection cuts the sound into segments, and each segment's
 * utterance is told. What an engine makes of a segment is its own.
 */
export abstract class SegmentListener implements Listener {
  protected readonly sound = new SoundBuffer();
  protected detector = new SpeechDetector();
  /** Samples not yet handed to the detector: less than one frame. */
  private rest = new Float32Array(0);
  private nextId = 0;
  /** Samples that were fed and not looked at yet. */
  private waiting = 0;
  /** What was recognised before it was sure that its segment is over. */
  private ahead: { readonly segment: Segment; readonly utterance: Utterance | null } | null = null;
  /** Calls are worked off one after the other: the models hold state. */
  private queue: Promise<void> = Promise.resolve();

  constructor(
    private readonly silero: Pick<Silero, 'probability' | 'reset'>,
    protected readonly onEvent: (event: ListenerEvent) => void,
  ) {}

  abstract pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance>;

  /** What is likely to be said from now on. */
  protected abstract lean(vocabulary: Vocabulary): void;
  /** Forgets what was heard: all begins again. */
  protected abstract forget(): void;
  /** Speech has been noticed that began at a time in seconds. */
  protected abstract noticed(at: number): void;
  /** A frame more was taken in: what is done while speech goes on. */
  protected abstract attend(): void | Promise<void>;
  /** Whether a segment is recognised as soon as its sound is there: in vain where speech goes on after all. */
  protected abstract readonly isEager: boolean;
  /** What was said in a segment; null when that was nothing. Its utterance has the id given if it is one; it may have been another's, that came to nothing. */
  protected abstract recognise(segment: Segment, id: number): Utterance | null | Promise<Utterance | null>;
  /** Seconds before which no sound is wanted any more. */
  protected abstract wantedFrom(): number;

  expect(vocabulary: Vocabulary): Promise<void> {
    return this.inTurn(() => this.lean(vocabulary));
  }

  start(vocabulary: Vocabulary): Promise<void> {
    return this.inTurn(() => {
      this.detector = new SpeechDetector();
      this.silero.reset();
      this.sound.clear();
      this.rest = new Float32Array(0);
      this.nextId = 0;
      this.ahead = null;
      this.forget();
      this.lean(vocabulary);
    });
  }

  feed(samples: Float32Array): Promise<void> {
    // A copy: the caller may use its array again as soon as this returns.
    const own = samples.map((x) => (Number.isFinite(x) ? Math.max(-1, Math.min(1, x)) : 0));
    this.waiting += own.length;
    return this.inTurn(() => {
      this.waiting -= own.length;
      return this.take(own);
    });
  }

  stop(): Promise<void> {
    return this.inTurn(async () => {
      // Silence fills the last frame.
      if (this.rest.length > 0) await this.take(new Float32Array(FRAME_SAMPLES - this.rest.length));
      for (const detection of this.detector.flush()) await this.follow(detection);
    });
  }

  /** Seconds of sound that were fed and not looked at yet. */
  protected get behind(): number {
    return this.waiting / SAMPLE_RATE;
  }

  /** Runs what is asked after everything asked before. An engine that fails says so as an event. */
  protected inTurn(work: () => void | Promise<void>): Promise<void> {
    const done = this.queue.then(work).catch((error: unknown) => {
      const reason = messageOf(error);
      this.onEvent({
        type: 'trouble',
        trouble: { kind: 'engine', message: `Some sound could not be recognised: ${reason}` },
      });
    });
    this.queue = done;
    return done;
  }

  private async take(samples: Float32Array): Promise<void> {
    const waiting = new Float32Array(this.rest.length + samples.length);
    waiting.set(this.rest);
    waiting.set(samples, this.rest.length);
    let at = 0;
    for (; at + FRAME_SAMPLES <= waiting.length; at += FRAME_SAMPLES) {
      const frame = waiting.subarray(at, at + FRAME_SAMPLES);
      this.sound.append(frame);
      const probability = await this.silero.probability(frame);
      for (const detection of this.detector.push(probability)) await this.follow(detection);
      await this.attend();
      if (this.isEager) await this.lookAhead();
      this.sound.dropBefore(this.wantedFrom());
    }
    this.rest = waiting.slice(at);
  }

  private async lookAhead(): Promise<void> {
    const segment = this.detector.ending;
    if (segment && !isSame(segment, this.ahead?.segment))
      this.ahead = { segment, utterance: await this.recognise(segment, this.nextId) };
  }

  private utteranceIn(segment: Segment): Utterance | null | Promise<Utterance | null> {
    const { ahead } = this;
    this.ahead = null;
    return ahead && isSame(segment, ahead.segment) ? ahead.utterance : this.recognise(segment, this.nextId);
  }

  private async follow(detection: Detection): Promise<void> {
    if (detection.type === 'onset') {
      this.onEvent({ type: 'speech', at: detection.start });
      this.noticed(detection.start);
      return;
    }
    const utterance = await this.utteranceIn(detection.segment);
    if (!utterance) return;
    this.nextId++;
    this.onEvent({ type: 'utterance', utterance });
  }
}

/** Whether two segments are of the same sound. */
const isSame = (a: Segment, b: Segment | undefined): boolean => a.from === b?.from && a.to === b.to;
