import type { Utterance } from '../language/utterance.ts';
import { piecesOf } from '../language/words.ts';
import { beamSearch, greedy } from '../decoding/beamSearch.ts';
import { biasOf, PhraseBias } from '../decoding/bias.ts';
import { LEAST_EVIDENCE, loopStart } from '../decoding/garbage.ts';
import type { Listener, ListenerEvent, Vocabulary } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { momentSaid } from '../decoding/pinpoint.ts';
import { respell, SkillWords } from '../decoding/respell.ts';
import { SegmentListener, type HearingOptions } from './segmentListener.ts';
import { Silero } from '../sound/silero.ts';
import type { Segment } from '../sound/speechDetector.ts';
import { SpeechModel, type EncodedSound, type ModelFiles } from '../decoding/speechModel.ts';
import { END } from '../decoding/tokens.ts';
import { weighNumbers } from '../decoding/weighNumbers.ts';
import { EDGE_UNCERTAINTY, FOUND_UNCERTAINTY, spreadBoundaries, timeWords } from '../decoding/wordTimes.ts';

export interface ListenerOptions extends HearingOptions {
  readonly model: ModelFiles;
}

/** Seconds of new speech after which a partial result is worth another decoding. */
const PARTIAL_EVERY = 0.6;
/**
 * The same in a silence that may be the end, of which so many seconds are over: what was said by then is most often the whole, and is
 * shown a good half second before it is sure. Once it is under way, nothing more is decoded in part, so that the whole need not wait.
 */
const PARTIAL_AT_END = 0.3;
const MAY_BE_END = 0.06;
/** Seconds of sound that may wait while something is decoded in part. Where more waits, the machine is too busy for it: it would fall further and further behind. */
const MOST_BEHIND = 0.5;

/** Seconds of sound the encoder needs at the least. */
const LEAST_SOUND = 0.2;

/** Seconds of sound kept for {@link Listener.pinpoint}: some utterances, 2 MB. */
const HELD = 40;

/**
 * A listener that runs wholly on this machine: speech detection, then an encoder-decoder model on each stretch of
 * speech.
 *
 * @throws {Error} a model file is not what it should be
 */
export async function createListener(options: ListenerOptions): Promise<Listener> {
  const model = await SpeechModel.open(options.model);
  const silero = await Silero.open(options.detector);
  const silence = await model.encode(new Float32Array(SAMPLE_RATE));
  return new OfflineListener(model, silero, silence, options.onEvent, options.partials ?? false);
}

/** An utterance whose sound is still held, for {@link Listener.pinpoint}. */
interface Heard {
  readonly id: number;
  readonly segment: Segment;
  readonly pieces: readonly string[];
  /** Token ids of each piece. */
  readonly ids: readonly (readonly number[])[];
}

class OfflineListener extends SegmentListener {
  protected readonly isEager: boolean;
  private bias = new PhraseBias([]);
  private words = new SkillWords([]);
  private heard: Heard[] = [];
  private partialAt = 0;

  constructor(
    private readonly model: SpeechModel,
    silero: Silero,
    /** What made-up text is told by: a real one is likelier under its own sound than under this. */
    private readonly silence: EncodedSound,
    onEvent: (event: ListenerEvent) => void,
    private readonly partials: boolean,
  ) {
    super(silero, onEvent);
    // A file is heard as quickly as it can be, and what is recognised in vain only costs time.
    this.isEager = partials;
  }

  protected lean({ phrases }: Vocabulary): void {
    this.bias = biasOf(phrases, this.model.tokens);
    this.words = new SkillWords(phrases);
  }

  protected forget(): void {
    this.heard = [];
    this.partialAt = 0;
  }

  protected noticed(at: number): void {
    this.partialAt = at;
  }

  async pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    let finer = utterance;
    await this.inTurn(async () => {
      const heard = this.heard.find(({ id }) => id === utterance.id);
      if (heard?.pieces.length === utterance.words.length)
        finer = await this.refine(utterance, heard, wanted);
    });
    return finer;
  }

  protected wantedFrom(): number {
    const since = Math.min(this.detector.openFrom ?? Infinity, this.sound.seconds - HELD);
    this.heard = this.heard.filter(({ segment }) => segment.from >= since);
    return since;
  }

  protected async recognise(segment: Segment, id: number): Promise<Utterance | null> {
    const samples = this.sound.slice(segment.from, segment.to);
    const sound = await this.model.encode(samples);
    const found = await beamSearch(this.model, sound, this.bias);
    const loop = loopStart(piecesOf(this.model.tokens.decode(found.ids)), found.ended);
    const heard = wordsOf(this.model, found.ids)
      .slice(0, loop ?? undefined)
      .flat();
    if (heard.length === 0) return null;
    const here =
      loop === null ? found.logProbability / (found.ids.length + 1) : await this.meanNats(sound, heard);
    if (here - (await this.meanNats(this.silence, heard)) < LEAST_EVIDENCE) return null;

    const pieces = await respell(this.model, sound, piecesOf(this.model.tokens.decode(heard)), this.words);
    if (pieces.length === 0) return null;
    const text = pieces.join(' ');
    const ids = wordsOf(this.model, this.model.tokens.encode(text));
    const numbers = await weighNumbers(this.model, samples, sound, pieces, this.bias);
    const confidences = await this.confidencesOf(sound, ids);
    this.heard = this.heard.filter((other) => other.id !== id);
    if (ids.length === pieces.length) this.heard.push({ id, segment, pieces, ids });
    return {
      id,
      text,
      start: segment.start,
      end: segment.end,
      uncertainty: EDGE_UNCERTAINTY,
      confidence: Math.exp(here),
      words: timeWords(pieces, segment).map((word, i) => ({ ...word, confidence: confidences[i] ?? 0 })),
      numbers,
    };
  }

  /** Mean log-probability of a text's tokens and of its end. */
  private async meanNats(sound: EncodedSound, ids: readonly number[]): Promise<number> {
    const scores = await this.model.scoreOne(sound, [...ids, END]);
    return scores.reduce((sum, s) => sum + s, 0) / scores.length;
  }

  /** 0–1 for each word of a text: the geometric mean of its tokens' probabilities, the words before it given. */
  private async confidencesOf(sound: EncodedSound, words: readonly (readonly number[])[]): Promise<number[]> {
    const scores = await this.model.scoreOne(sound, words.flat());
    let at = 0;
    return words.map(({ length }) => {
      const own = scores.slice(at, (at += length));
      return Math.exp(own.reduce((sum, s) => sum + s, 0) / length);
    });
  }

  private async refine(utterance: Utterance, heard: Heard, wanted: readonly number[]): Promise<Utterance> {
    const { segment, pieces, ids } = heard;
    const boundaries = spreadBoundaries(pieces, segment);
    const encodeUntil = (to: number): Promise<EncodedSound> =>
      this.model.encode(this.sound.slice(segment.from, to));
    // Boundary i lies between words i and i + 1. One at a pause is the detector's, and better than any search.
    for (const i of new Set(wanted.flatMap((word) => [word - 1, word]))) {
      const { end, start } = boundaries[i] ?? { end: 0, start: 1 };
      if (end !== start) continue;
      const before = ids.slice(0, i).flat();
      const least = segment.from + LEAST_SOUND;
      const found = await momentSaid(this.model, encodeUntil, before, ids[i] ?? [], end, least, segment.to);
      const [floor, ceiling] = [
        boundaries[i - 1]?.start ?? segment.start,
        boundaries[i + 1]?.end ?? segment.end,
      ];
      if (found !== null) {
        const at = Math.min(ceiling, Math.max(floor, found));
        boundaries[i] = { end: at, start: at };
      }
    }
    const words = utterance.words.map((word, i) => {
      const start = boundaries[i - 1]?.start ?? segment.start;
      const end = boundaries[i]?.end ?? segment.end;
      const uncertainty = wanted.includes(i) ? FOUND_UNCERTAINTY : word.uncertainty;
      return { ...word, start, end: Math.max(start, end), uncertainty };
    });
    return { ...utterance, words };
  }

  protected async attend(): Promise<void> {
    if (!this.partials || this.behind > MOST_BEHIND) return;
    const { openFrom: from, silence } = this.detector;
    const now = this.sound.seconds;
    const isEnd = silence >= MAY_BE_END;
    const spoken = now - silence - this.partialAt;
    if (from === null || spoken < (isEnd ? PARTIAL_AT_END : PARTIAL_EVERY)) return;
    this.partialAt = now;
    const sound = await this.model.encode(this.sound.slice(from, now));
    const text = this.model.tokens.decode((await greedy(this.model, sound)).ids);
    if (text !== '') this.onEvent({ type: 'partial', text, start: from, end: now });
  }
}

/** Token ids word by word: a token that begins with a space begins a word. */
function wordsOf(model: SpeechModel, ids: readonly number[]): number[][] {
  const words: number[][] = [];
  for (const id of ids) {
    const last = words.at(-1);
    if (!last || model.tokens.beginsWord(id)) words.push([id]);
    else last.push(id);
  }
  return words;
}
