import { spellOut, stemOf } from '../language/words.ts';
import type { Utterance, Word } from '../language/utterance.ts';
import type { Listener, ListenerEvent, Vocabulary } from './listener.ts';

/** The quick one is the second hearing by itself; held to the skill's phrases it would listen twice for nothing. */
const NO_PHRASES: Vocabulary = { phrases: [] };

/** Opens one of the two listeners. */
export type OpenListener = (onEvent: (event: ListenerEvent) => void) => Promise<Listener>;

/**
 * Seconds by which a word of the quick engine may lie outside an utterance of the settled one and still belong to it: the
 * detector's edges are no surer.
 */
const EDGE = 0.3;
/** Seconds within which the two must place a word for it to be the same one. Spread words are off by half a second at times. */
const SAME_WORD = 1;

/**
 * Two engines that hear the same sound at once. What is being said is told as the quick one hears it; utterances are the
 * settled one's, each with what the quick one heard in the same stretch. Words whose exact time is wanted have the quick
 * one's where it heard them too.
 */
export class TogetherListener implements Listener {
  /** What the quick one heard that no utterance has ended yet. */
  private words: Word[] = [];
  private constructor(
    private readonly quick: Listener,
    private readonly settled: Listener,
    private readonly onEvent: (event: ListenerEvent) => void,
  ) {}

  /** @throws {Error} what opening either throws */
  static async open(
    openQuick: OpenListener,
    openSettled: OpenListener,
    onEvent: (event: ListenerEvent) => void,
  ): Promise<TogetherListener> {
    let together: TogetherListener | null = null;
    const quick = await openQuick((event) => together?.hearQuick(event));
    const settled = await openSettled((event) => together?.hearSettled(event));
    together = new TogetherListener(quick, settled, onEvent);
    return together;
  }

  async start(vocabulary: Vocabulary): Promise<void> {
    await this.quick.start(NO_PHRASES);
    this.words = [];
    await this.settled.start(vocabulary);
  }

  async expect(vocabulary: Vocabulary): Promise<void> {
    await this.settled.expect(vocabulary);
  }

  /** The quick one goes first: when the settled one tells an utterance, the quick one has heard it out. */
  async feed(samples: Float32Array): Promise<void> {
    await this.quick.feed(samples);
    await this.settled.feed(samples);
  }

  async pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    const found = new Map(wanted.map((at) => [at, sameWord(utterance, at)]));
    const missing = wanted.filter((at) => !found.get(at));
    const finer = missing.length === 0 ? utterance : await this.settled.pinpoint(utterance, missing);
    const words = finer.words.map((word, at) => ({ ...word, ...found.get(at), text: word.text }));
    return { ...finer, words };
  }

  async stop(): Promise<void> {
    await this.quick.stop();
    await this.settled.stop();
  }

  private hearQuick(event: ListenerEvent): void {
    if (event.type !== 'utterance') return this.onEvent(event);
    const { text, start, end, words } = event.utterance;
    this.words.push(...words);
    this.onEvent({ type: 'partial', text, start, end });
  }

  private hearSettled(event: ListenerEvent): void {
    if (event.type === 'trouble') this.onEvent(event);
    if (event.type !== 'utterance') return;
    const { utterance } = event;
    const [from, to] = [utterance.start - EDGE, utterance.end + EDGE];
    const middle = ({ start, end }: Word): number => (start + end) / 2;
    const words = this.words.filter((word) => middle(word) >= from && middle(word) <= to);
    this.words = this.words.filter((word) => middle(word) > to);
    this.onEvent({ type: 'utterance', utterance: withSecond(utterance, words) });
  }
}

function withSecond(utterance: Utterance, words: readonly Word[]): Utterance {
  const [first] = words;
  if (!first) return utterance;
  const sureness = words.reduce((sum, { confidence = 1 }) => sum + Math.log(Math.max(1e-6, confidence)), 0);
  const second = {
    text: words.map(({ text }) => text).join(' '),
    start: first.start,
    end: (words.at(-1) ?? first).end,
    uncertainty: first.uncertainty,
    confidence: Math.exp(sureness / words.length),
    words,
  };
  return { ...utterance, second };
}

/** When the quick engine heard a word of an utterance, where it heard it as well. */
function sameWord({ words, second }: Utterance, at: number): Omit<Word, 'text'> | undefined {
  const stems = (text: string): string => spellOut(text).map(stemOf).join(' ');
  const word = words[at];
  if (!word) return undefined;
  const { text, start } = word;
  const [nearest] = (second?.words ?? [])
    .filter((word) => stems(word.text) === stems(text) && Math.abs(word.start - start) <= SAME_WORD)
    .sort((a, b) => Math.abs(a.start - start) - Math.abs(b.start - start));
  return nearest && { start: nearest.start, end: nearest.end, uncertainty: nearest.uncertainty };
}
