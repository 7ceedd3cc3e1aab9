import type { Utterance } from '../language/utterance.ts';
import { openKaldi, type DecodedWord, type Kaldi, type Recogniser } from './kaldi.ts';
import type { Listener, ListenerEvent, Vocabulary } from '../listening/listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { SegmentListener, type HearingOptions } from '../listening/segmentListener.ts';
import { FRAME_SECONDS, Silero } from '../sound/silero.ts';
import type { Segment } from '../sound/speechDetector.ts';

/** A model of Vosk's format, with what runs it. */
export interface StreamingModel {
  /** vosk-browser's dist/vosk.js. */
  readonly runtime: Uint8Array;
  readonly files: ReadonlyMap<string, Uint8Array>;
}

/** Seconds of sound that the decoder is given at once while speech goes on. Shorter, partials cost more than the decoding. */
const STEP = 4 * FRAME_SECONDS;

/** Seconds of sound held while nobody speaks: what lies before an onset goes along with it. */
const HELD = 1;

/**
 * Half-width in seconds of what is believed about word times. Of 161 words at the edges of lines, heard rightly (flite slt,
 * clean), nine in ten began within 0.086 s and ended within 0.066 s of the line; beside a tap at 10 dB ends came up to
 * 0.122 s early.
 */
const WORD_UNCERTAINTY = 0.1;

/**
 * What the mean of the words' posteriors is raised to. A lattice holds only what the decoder thought worth keeping, so the
 * posteriors are high even where the words are wrong: of lines heard 40 % wrong or worse half had a mean above 0.79. On nine
 * dev narrations full of traps (flite slt, clean, a small model of our own) the powers 1, 4 and 8 gave 19, 12 and 7 false
 * credits, none of a critical step, at a recall of 0.70, 0.62 and 0.32. The fourth puts 0.795 at 0.4, where the core begins
 * to believe words, and 0.931 at 0.75, where it takes talk for clear.
 */
const SOBERING = 4;

/** What a decoder writes for a word it does not know. */
const UNKNOWN = /^[[<]unk[\]>]$/;

/**
 * Opens a listener that runs wholly on this machine: speech detection, and Kaldi's decoder on the speech as it comes.
 *
 * @throws {Error} a model file is not what it should be
 */
export async function createStreamingListener(
  options: HearingOptions & { readonly model: StreamingModel },
): Promise<Listener> {
  const kaldi = await openKaldi(options.model.runtime, options.model.files);
  const silero = await Silero.open(options.detector);
  return new StreamingListener(kaldi, silero, options.onEvent, options.partials ?? false);
}

/**
 * Hears with a decoder that takes the sound as it comes. Segments are the detector's, as for the other engine, so that noise
 * costs nothing and gives no words. Word times are the decoder's own. Numbers are not weighed: there is one hearing, which
 * is as sure of a wrong number as of a right one, so the core asks about each.
 *
 * Where the model takes phrases a second recogniser hears the same sound held to the skill's. What it hears is never the
 * utterance, since it must hear something of the skill; it is the utterance's second hearing.
 */
export class StreamingListener extends SegmentListener {
  protected readonly isEager = false;
  /** Hears all words of the model. */
  private free: Timed | null = null;
  /** Hears the phrases and little else. */
  private held: Timed | null = null;
  private phrases: readonly string[] = [];
  /** Seconds up to which they have taken the open segment; null before it has any of it. */
  private takenTo: number | null = null;
  /** Seconds up to which words have been told. */
  private heardTo = 0;
  /** The last partial text told. */
  private told = '';

  constructor(
    private readonly kaldi: Kaldi,
    silero: Pick<Silero, 'probability' | 'reset'>,
    onEvent: (event: ListenerEvent) => void,
    private readonly partials: boolean,
  ) {
    super(silero, onEvent);
  }

  /** Answers the utterance as it is: its words' times are already the decoder's. */
  pinpoint(utterance: Utterance): Promise<Utterance> {
    return Promise.resolve(utterance);
  }

  override async stop(): Promise<void> {
    await super.stop();
    await this.inTurn(() => this.forget());
  }

  protected lean({ phrases }: Vocabulary): void {
    this.phrases = this.kaldi.takesPhrases ? phrases : [];
    this.held?.close();
    this.held = null;
  }

  protected forget(): void {
    this.free?.close();
    this.held?.close();
    this.free = this.held = null;
    this.heardTo = 0;
    this.takenTo = null;
    this.told = '';
  }

  protected noticed(): void {
    this.told = '';
  }

  protected attend(): void {
    const from = this.detector.openFrom;
    if (from === null) {
      // What was taken was no speech after all.
      this.finish();
      return;
    }
    const now = this.sound.seconds;
    if (now - (this.takenTo ?? from) < STEP) return;
    const free = this.decode(from, now);
    if (!this.partials) return;
    const text = free.partial();
    if (text === '' || text === this.told) return;
    this.told = text;
    this.onEvent({ type: 'partial', text, start: from, end: now });
  }

  protected recognise({ from, to }: Segment, id: number): Utterance | null {
    this.decode(from, to);
    const { free, held } = this.finish();
    const within = ({ start }: DecodedWord): boolean => start < to;
    const words = free.filter(within);
    this.heardTo = words.at(-1)?.end ?? to;
    const heard = hearingOf(words);
    const second = hearingOf(held.filter(within));
    return heard && { id, ...heard, ...(second && { second }) };
  }

  protected wantedFrom(): number {
    return Math.min(this.takenTo ?? Infinity, this.detector.openFrom ?? Infinity, this.sound.seconds - HELD);
  }

  /** Gives the decoders what they have not had yet of the open segment. */
  private decode(from: number, to: number): Timed {
    this.free ??= new Timed(this.kaldi.open());
    if (this.phrases.length > 0) this.held ??= new Timed(this.kaldi.open(this.phrases));
    const at = this.takenTo ?? Math.max(from, this.heardTo);
    const samples = this.sound.slice(at, to);
    this.free.accept(samples);
    this.held?.accept(samples);
    this.takenTo = at + samples.length / SAMPLE_RATE;
    return this.free;
  }

  /** Ends what was being decoded: the words of either, at their times in the session. */
  private finish(): { free: DecodedWord[]; held: DecodedWord[] } {
    const end = this.takenTo;
    if (end === null) return { free: [], held: [] };
    this.takenTo = null;
    return { free: this.free?.finish(end) ?? [], held: this.held?.finish(end) ?? [] };
  }
}

/** A recogniser that is not given all sound: its own times count only what it was given. */
class Timed {
  /** Seconds of sound it was given. */
  private taken = 0;

  constructor(private readonly recogniser: Recogniser) {}

  accept(samples: Float32Array): void {
    this.recogniser.accept(samples);
    this.taken += samples.length / SAMPLE_RATE;
  }

  partial(): string {
    return this.recogniser.partial();
  }

  /** @param end when the last sound it was given ended, in seconds of the session */
  finish(end: number): DecodedWord[] {
    const shift = end - this.taken;
    return this.recogniser
      .finish()
      .map((word) => ({ ...word, start: word.start + shift, end: word.end + shift }));
  }

  close(): void {
    this.recogniser.close();
  }
}

/** What words say together; null when they say nothing. */
function hearingOf(words: readonly DecodedWord[]): NonNullable<Utterance['second']> | null {
  const [first] = words;
  if (!first || words.every(({ text }) => UNKNOWN.test(text))) return null;
  return {
    text: words.map(({ text }) => text).join(' '),
    start: first.start,
    end: (words.at(-1) ?? first).end,
    uncertainty: WORD_UNCERTAINTY,
    confidence: confidenceOf(words),
    words: words.map((word) => ({ ...word, uncertainty: WORD_UNCERTAINTY })),
  };
}

/** The geometric mean of the words' posteriors, sobered down. */
function confidenceOf(words: readonly DecodedWord[]): number {
  const logs = words.map(({ confidence }) => Math.log(Math.max(confidence, Number.MIN_VALUE)));
  return Math.exp((SOBERING * logs.reduce((sum, log) => sum + log, 0)) / logs.length);
}
