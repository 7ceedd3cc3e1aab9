import { describe, expect, it } from 'vitest';
import type { Listener, ListenerEvent } from '../../app/listening/listener.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { tryListener } from '../../app/listening/trial.ts';
import { heardClearly, type Utterance } from '../../app/language/utterance.ts';
import { shipped } from './making/narrate.ts';

const checklist = shipped('hand-washing');

const SAYS = [
  'Now I take some soap.',
  2,
  'I have not cleaned under my nails.',
  2,
  'I throw the towel in the bin.',
  2,
];
const SECONDS = 14;

/** Hears lines, each some time after it was said, and tells the first word of each as soon as it was. */
class Typist implements Listener {
  take: (event: ListenerEvent) => void = () => undefined;
  private heard = 0;
  private readonly lines: Utterance[];

  constructor(
    says: readonly (string | number)[],
    private readonly late: number,
  ) {
    let at = 0;
    this.lines = says.flatMap((said, id) => {
      if (typeof said === 'number') {
        at += said;
        return [];
      }
      const utterance = heardClearly(id, said, at);
      at = utterance.end;
      return [utterance];
    });
  }
  start(): Promise<void> {
    return Promise.resolve();
  }
  expect(): Promise<void> {
    return Promise.resolve();
  }
  feed({ length }: Float32Array): Promise<void> {
    const before = this.heard;
    this.heard += length / SAMPLE_RATE;
    for (const utterance of this.lines) {
      const { text, start, end } = utterance;
      if (end > before && end <= this.heard) this.take({ type: 'partial', text, start, end });
      const due = end + this.late;
      if (due > before && due <= this.heard) this.take({ type: 'utterance', utterance });
    }
    return Promise.resolve();
  }
  pinpoint(utterance: Utterance): Promise<Utterance> {
    return Promise.resolve(utterance);
  }
  stop(): Promise<void> {
    return Promise.resolve();
  }
}

async function tried(hears: readonly (string | number)[], signal = new AbortController().signal) {
  const clock = { now: 100 };
  const listener = new Typist(hears, 1.5);
  const shares: number[] = [];
  const score = await tryListener({
    listener,
    listen: (take) => (listener.take = take),
    checklist,
    phrases: [],
    samples: new Float32Array(SECONDS * SAMPLE_RATE),
    says: SAYS,
    now: () => clock.now,
    wait: async (seconds) => {
      clock.now += seconds;
      // What has been heard is worked off meanwhile.
      await new Promise((done) => setTimeout(done));
    },
    onProgress: (share) => shares.push(share),
    signal,
  });
  return { score, shares, took: clock.now - 100 };
}

describe('a trial of a listener', () => {
  it('gives the narration at the speed it was spoken in, and counts delays from the end of the words', async () => {
    const { score, shares, took } = await tried(SAYS);
    expect(took).toBeCloseTo(SECONDS, 5);
    expect(shares[0]).toBe(0);
    expect(shares.at(-1)).toBeCloseTo(1, 1);
    expect(score).toMatchObject({ right: score.of, wrong: 0, wrongCritical: 0 });
    expect(score.of).toBe(checklist.steps.filter(({ evidence }) => evidence.kind !== 'eyes').length);
    expect(score.settled).toBeGreaterThan(1.4);
    expect(score.settled).toBeLessThan(1.7);
    expect(score.tick).toBeLessThan(0.2);
  });

  it('counts what was missed and what was credited falsely', async () => {
    const missed = await tried(['Now I bake some soup.', 2, 'I throw the towel in the bin.']);
    expect(missed.score).toMatchObject({ right: missed.score.of - 1, wrong: 0 });
    const made = await tried([
      ...SAYS.slice(0, 2),
      'I clean under my nails.',
      2,
      'I rinse from the wrists down to the fingertips.',
    ]);
    expect(made.score).toMatchObject({ right: made.score.of - 3, wrong: 2, wrongCritical: 1 });
    const deaf = await tried([]);
    expect(deaf.score).toMatchObject({ right: deaf.score.of - 2, tick: null, settled: null });
  });

  it('ends when it is broken off', async () => {
    await expect(tried(SAYS, AbortSignal.abort(new Error('enough')))).rejects.toThrow('enough');
  });
});
