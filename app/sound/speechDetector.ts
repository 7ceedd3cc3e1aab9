import { FRAME_SECONDS } from './silero.ts';

/** A stretch of speech. All times are seconds since the detector's first frame. */
export interface Segment {
  /** Estimated onset and end of the speech itself. */
  readonly start: number;
  readonly end: number;
  /** The sound to be recognised: the speech with some of what surrounds it. */
  readonly from: number;
  readonly to: number;
  /** Silences inside, in order. */
  readonly pauses: readonly { readonly start: number; readonly end: number }[];
}

export type Detection =
  /** Speech has been going on for {@link LEAST_SPEECH}; it began at `start`. */
  | { readonly type: 'onset'; readonly start: number }
  | { readonly type: 'segment'; readonly segment: Segment };

/**
 * How late, in seconds, the first frame of speech and the end of the last one are, in the middle. Measured on 132 lines
 * of six synthetic voices in a quiet room, under pink noise and beside a tap, both at 10 dB: starts were 16 ms late
 * (−16…144), ends, taken at {@link SURE}, 22, 43 and 24 ms (−137…121 from the 5th to the 95th percentile). Taken at
 * {@link SPEECH}, ends come up to 60 ms later in noise.
 */
const START_LATE = 0.016;
const END_LATE = 0.03;
/** The last frame this likely to be speech is taken for the last of the speech. */
const SURE = 0.7;

/** A frame this likely to be speech begins a segment. */
const SPEECH = 0.5;
/** Below this a frame counts as silence. Between the two, what was goes on. */
const SILENCE = 0.35;
/** Seconds of silence that end a segment. Shorter, slow talkers' sentences fall apart; longer, marks come late. */
const REDEMPTION = 0.4;
/** Seconds of speech without which a segment is a click or a cough. */
const LEAST_SPEECH = 0.2;
/** Seconds of sound before the onset and after the end that go along for recognition; plosives and fricatives hide there. */
const PADDING = 0.3;
/**
 * Seconds after which a segment is cut although talk goes on. The recogniser's cost and errors rise beyond; much shorter,
 * sentences are cut in the middle.
 */
const LONGEST = 15;
/** The cut falls on the quietest frame of the last so many seconds. */
const CUT_WITHIN = 5;
/** Seconds of silence inside a segment that count as a pause between words; stops inside words are shorter. */
const LEAST_PAUSE = 0.15;

const inFrames = (seconds: number): number => Math.round(seconds / FRAME_SECONDS);

/** Turns frames' speech probabilities into segments. Pure: what it answers depends on what it was pushed, alone. */
export class SpeechDetector {
  /** Frames pushed so far; times follow from it. */
  private frame = 0;
  /** Probabilities of the open segment's frames, from its first speech frame on. */
  private open: number[] | null = null;
  private opened = 0;
  private silent = 0;
  private announced = false;
  /** No padding may reach before this frame: it went along with the segment before. */
  private used = 0;

  /** Takes the next frame's probability, 0–1. */
  push(probability: number): Detection[] {
    this.frame++;
    if (!this.open) {
      if (probability < SPEECH) return [];
      this.open = [];
      this.opened = this.frame - 1;
      this.silent = 0;
      this.announced = false;
    }
    this.open.push(probability);
    if (probability >= SPEECH) this.silent = 0;
    else if (probability < SILENCE || this.silent > 0) this.silent++;

    const found: Detection[] = [];
    if (!this.announced && this.hasSpeech(this.open)) {
      this.announced = true;
      found.push({ type: 'onset', start: this.opened * FRAME_SECONDS });
    }
    if (this.silent >= inFrames(REDEMPTION))
      found.push(...this.close(this.open, this.open.length - this.silent));
    else if (this.open.length >= inFrames(LONGEST)) found.push(...this.cut(this.open));
    return found;
  }

  /** Ends the open segment, if there is one: the sound is over. */
  flush(): Detection[] {
    return this.open ? this.close(this.open, this.open.length - this.silent) : [];
  }

  /** Seconds of silence since the last speech of the open segment; 0 while there is none. */
  get silence(): number {
    return this.open ? this.silent * FRAME_SECONDS : 0;
  }

  /** The segment that the open one is going to be unless speech goes on; null while its sound is not whole yet. */
  get ending(): Segment | null {
    const { open, silent } = this;
    return open && silent >= inFrames(PADDING) ? this.until(open, open.length - silent) : null;
  }

  /** When the open segment's sound begins, padding included; null while there is none. */
  get openFrom(): number | null {
    return this.open ? this.padded(this.opened) * FRAME_SECONDS : null;
  }

  private hasSpeech(probabilities: readonly number[]): boolean {
    return probabilities.filter((p) => p >= SPEECH).length >= inFrames(LEAST_SPEECH);
  }

  private padded(frame: number): number {
    return Math.max(this.used, frame - inFrames(PADDING));
  }

  /** Closes the open segment after so many of its frames. */
  private close(open: readonly number[], length: number): Detection[] {
    const segment = this.until(open, length);
    this.open = null;
    if (!segment) return [];
    this.used = this.paddedEnd(length);
    return [{ type: 'segment', segment }];
  }

  /** The segment of so many of the open one's frames; null where no speech is in them. */
  private until(open: readonly number[], length: number): Segment | null {
    const probabilities = open.slice(0, length);
    if (!this.hasSpeech(probabilities)) return null;
    const from = this.padded(this.opened);
    return this.segment(probabilities, this.opened + length, from, this.paddedEnd(length));
  }

  private paddedEnd(length: number): number {
    return Math.min(this.frame, this.opened + length + inFrames(PADDING));
  }

  /** Closes the open segment at its quietest late frame; the next one begins with the next speech after it. */
  private cut(open: readonly number[]): Detection[] {
    let at = open.length - inFrames(CUT_WITHIN);
    for (let i = at; i < open.length; i++) if (open[i]! <= open[at]!) at = i; // within
    const before = open.slice(0, at);
    const speech = before.slice(0, before.findLastIndex((p) => p >= SPEECH) + 1);
    const cut = this.opened + at;
    const segment = this.segment(speech, this.opened + speech.length, this.padded(this.opened), cut);
    this.used = cut;
    const next = open.findIndex((p, i) => i >= at && p >= SPEECH);
    this.open = next < 0 ? null : open.slice(next);
    this.opened += Math.max(0, next);
    this.announced = this.open !== null && this.hasSpeech(this.open);
    return [{ type: 'segment', segment }];
  }

  private segment(probabilities: readonly number[], last: number, from: number, to: number): Segment {
    const pauses: { start: number; end: number }[] = [];
    for (let i = 0; i < probabilities.length;) {
      let end = i;
      while (end < probabilities.length && (probabilities[end] ?? 1) < SILENCE) end++;
      if (end - i >= inFrames(LEAST_PAUSE))
        pauses.push({
          start: (this.opened + i) * FRAME_SECONDS,
          end: (this.opened + end) * FRAME_SECONDS,
        });
      i = end + 1;
    }
    const sure = probabilities.findLastIndex((p) => p >= SURE);
    const end = sure < 0 ? last : this.opened + sure + 1;
    const start = this.opened * FRAME_SECONDS - START_LATE;
    return {
      start: Math.max(0, start),
      end: Math.max(start, end * FRAME_SECONDS - END_LATE),
      from: from * FRAME_SECONDS,
      to: to * FRAME_SECONDS,
      pauses,
    };
  }
}
