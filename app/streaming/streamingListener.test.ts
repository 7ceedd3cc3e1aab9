import { beforeEach, describe, expect, it } from 'vitest';
import type { Utterance } from '../language/utterance.ts';
import type { DecodedWord, Kaldi } from './kaldi.ts';
import type { ListenerEvent } from '../listening/listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { StreamingListener } from './streamingListener.ts';

/**
 * A recogniser for which loud sound is words: each tenth of a second of it is one, named after its loudness ("w5" for 0.5)
 * and as sure. Its times count what it has taken, as Kaldi's do. Held to phrases it hears the first of them instead.
 */
function pretendKaldi(takesPhrases = false) {
  const counts = { opened: 0, closed: 0, fails: false };
  const kaldi: Kaldi = {
    takesPhrases,
    heapBytes: () => 0,
    open: (phrases) => {
      counts.opened++;
      let taken = 0;
      let words: DecodedWord[] = [];
      return {
        accept: (samples) => {
          if (counts.fails) throw new Error('Kaldi: out of memory');
          for (const sample of samples) {
            const time = taken++ / SAMPLE_RATE;
            if (sample < 0.2 || (taken - 1) % 1600 !== 0) continue;
            const confidence = Math.round(sample * 100) / 100;
            words.push({
              text: phrases?.[0] ?? `w${Math.round(10 * sample)}`,
              start: time,
              end: time + 0.09,
              confidence,
            });
          }
        },
        partial: () => words.map(({ text }) => text).join(' '),
        finish: () => {
          const all = words;
          words = [];
          return all;
        },
        close: () => void counts.closed++,
      };
    },
  };
  return { kaldi, counts };
}

/** A detector for which any sound is speech. */
const detector = {
  reset: () => undefined,
  probability: async (frame: Float32Array) => (frame.some((x) => x > 0.05) ? 1 : 0),
};

let events: ListenerEvent[] = [];
let pretence = pretendKaldi();
let listener: StreamingListener;
beforeEach(() => {
  events = [];
  pretence = pretendKaldi();
  listener = new StreamingListener(pretence.kaldi, detector, (event) => void events.push(event), true);
});

const sound = (...parts: readonly (readonly [seconds: number, loudness: number])[]): Float32Array =>
  Float32Array.from(parts.flatMap(([s, x]) => Array.from<number>({ length: s * SAMPLE_RATE }).fill(x)));
const utterances = (): Utterance[] => events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));
async function hear(samples: Float32Array): Promise<void> {
  await listener.start({ phrases: [] });
  for (let at = 0; at < samples.length; at += 1600) await listener.feed(samples.subarray(at, at + 1600));
  await listener.stop();
}

describe('the streaming listener', () => {
  it('tells partials as they grow, then the words where they were said since the start', async () => {
    await hear(sound([3, 0], [1, 0.9], [1, 0], [4, 0], [0.5, 1], [1, 0]));
    const [first, second] = utterances();
    expect(first!.text).toBe(Array.from({ length: 10 }).fill('w9').join(' '));
    expect(first!.start).toBeGreaterThanOrEqual(2.9);
    expect(first!.start).toBeLessThan(3.11);
    expect(first!.end).toBeCloseTo(first!.start + 0.99, 1);
    // What lies between is never given to the decoder, and counts all the same.
    expect(second!.start).toBeGreaterThanOrEqual(8.9);
    expect(second!.start).toBeLessThan(9.11);
    expect(second).toMatchObject({ id: 1, confidence: 1 });
    expect(second!.words.map((w) => w.text).join(' ')).toBe(second!.text);
    expect('numbers' in second!).toBe(false);

    const before = events.findIndex((e) => e.type === 'utterance');
    expect(events[0]).toEqual({
      type: 'partial',
      text: 'w9',
      start: expect.any(Number),
      end: expect.any(Number),
    });
    const partials = events.slice(0, before).flatMap((e) => (e.type === 'partial' ? [e.text] : []));
    expect(partials.length).toBeGreaterThan(3);
    expect(new Set(partials).size).toBe(partials.length);
    expect(events.slice(0, before).filter((e) => e.type === 'speech').length).toBe(1);
  });

  it('hears a second time, held to the phrases of the skill that is open', async () => {
    const { kaldi, counts } = pretendKaldi(true);
    listener = new StreamingListener(kaldi, detector, (event) => void events.push(event), true);
    await listener.start({ phrases: ['wet'] });
    await listener.feed(sound([1, 0], [0.5, 0.9], [1, 0]));
    await listener.expect({ phrases: ['bend'] });
    await listener.feed(sound([0.5, 0.9], [1, 0]));
    await listener.stop();
    expect(utterances().map(({ words, second }) => [words[0]!.text, second?.words[0]!.text])).toEqual([
      ['w9', 'wet'],
      ['w9', 'bend'],
    ]);
    // Pretended words lie a tenth of a second apart, counted from what either was given.
    for (const { words, second } of utterances())
      expect(Math.abs(second!.words[0]!.start - words[0]!.start)).toBeLessThan(0.1);
    expect(events.flatMap((e) => (e.type === 'partial' ? e.text.split(' ') : []))).not.toContain('wet');
    expect(counts).toMatchObject({ opened: 3, closed: 3 });
  });

  it('has no second hearing where the model takes no phrases', async () => {
    await listener.start({ phrases: ['wet'] });
    await listener.feed(sound([1, 0], [0.5, 0.9], [1, 0]));
    expect(utterances().map(({ second }) => second)).toEqual([undefined]);
  });

  it('is far less sure than the decoder is', async () => {
    await hear(sound([1, 0], [1, 0.9], [1, 0]));
    expect(utterances()[0]!.confidence).toBeCloseTo(0.9 ** 4, 5);
  });

  it('hears talk without a pause in pieces, each word once', async () => {
    await hear(sound([1, 0], [33, 0.9], [1, 0]));
    expect(utterances().length).toBeGreaterThan(1);
    const words = utterances().flatMap((u) => u.words);
    // Where it is cut the pretended words begin again, so that one less may fit in.
    expect(words.length).toBeGreaterThan(330 - utterances().length);
    expect(words.length).toBeLessThanOrEqual(330);
    for (const [i, { start }] of words.slice(1).entries()) {
      expect(start).toBeGreaterThanOrEqual(words[i]!.end - 1e-6);
      expect(start - words[i]!.start).toBeLessThan(0.21);
    }
  });

  it('tells nothing of a click, nor lets it into the next utterance', async () => {
    await hear(sound([1, 0], [0.1, 0.5], [2, 0], [1, 0.9], [1, 0]));
    expect(utterances().map((u) => new Set(u.words.map((w) => w.text)))).toEqual([new Set(['w9'])]);
  });

  it('gives the recogniser back when it stops, every time', async () => {
    for (let round = 0; round < 50; round++) await hear(sound([0.5, 0], [0.5, 0.9], [0.5, 0]));
    expect(pretence.counts).toMatchObject({ opened: 50, closed: 50 });
  });

  it('says so when the decoder fails, and hears what comes after', async () => {
    await listener.start({ phrases: [] });
    pretence.counts.fails = true;
    await listener.feed(sound([0.5, 0], [1, 0.9]));
    expect(events.at(-1)).toMatchObject({
      type: 'trouble',
      trouble: { kind: 'engine', message: /out of memory/ },
    });
    pretence.counts.fails = false;
    await listener.feed(sound([1, 0], [1, 0.7], [1, 0]));
    expect(utterances().at(-1)!.text).toContain('w7');
  });
});
