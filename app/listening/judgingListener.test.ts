import { describe, expect, it } from 'vitest';
import { heardClearly, type Utterance } from '../language/utterance.ts';
import { JudgingListener } from './judgingListener.ts';
import type { Listener, ListenerEvent } from './listener.ts';

const STEPS = [{ id: 'wet', text: 'Wet the hands' }];

/** A listener that tells what it is given, and a judge of our own. */
async function judging(judge: (utterance: Utterance) => Promise<Utterance>, clock = () => 0) {
  const told: ListenerEvent[] = [];
  const expected: unknown[] = [];
  let tell: (event: ListenerEvent) => void = () => undefined;
  const inner: Listener = {
    start: () => Promise.resolve(),
    expect: () => Promise.resolve(),
    feed: () => Promise.resolve(),
    pinpoint: (utterance) => Promise.resolve(utterance),
    stop: () => Promise.resolve(),
  };
  const listener = await JudgingListener.open(
    (onEvent) => {
      tell = onEvent;
      return Promise.resolve(inner);
    },
    {
      expect: (steps) => {
        expected.push(steps);
        return Promise.resolve();
      },
      judge,
    },
    (event) => told.push(event),
    clock,
  );
  return { listener, told, expected, tell: (event: ListenerEvent) => tell(event) };
}

const utterance = (id: number): ListenerEvent => ({
  type: 'utterance',
  utterance: heardClearly(id, 'I wet them.', id),
});

describe('a judging listener', () => {
  it('adds what the judge says, and keeps the order of events however long that takes', async () => {
    const { listener, told, expected, tell } = await judging(async (said) => {
      await new Promise((done) => setTimeout(done, 5));
      return { ...said, judged: [{ from: 0, to: 3, sure: { wet: 0.9 } }] };
    });
    await listener.start({ phrases: [], steps: STEPS });
    tell(utterance(0));
    tell({ type: 'speech', at: 3 });
    tell(utterance(1));
    await listener.feed(new Float32Array(1));
    expect(expected).toEqual([STEPS]);
    expect(told.map(({ type }) => type)).toEqual(['utterance', 'speech', 'utterance']);
    expect(told[0]).toMatchObject({ utterance: { judged: [{ sure: { wet: 0.9 } }] } });
  });

  it('judges a partial result, but not one that something newer waits behind', async () => {
    const asked: string[] = [];
    const { listener, told, tell } = await judging((said) => {
      asked.push(said.text);
      return Promise.resolve({ ...said, judged: [{ from: 0, to: 2, sure: { wet: 0.8 } }] });
    });
    const partial = (text: string): ListenerEvent => ({ type: 'partial', text, start: 0, end: 1 });
    tell(partial('I wet'));
    await listener.stop();
    expect(told).toEqual([{ ...partial('I wet'), judged: [{ from: 0, to: 2, sure: { wet: 0.8 } }] }]);
    tell(partial('I wet them'));
    tell(utterance(0));
    await listener.stop();
    expect(told[1]).toEqual(partial('I wet them'));
    expect(asked).toEqual(['I wet', 'I wet them.']);
  });

  it('goes on without a judge that fails, and says so once', async () => {
    const { listener, told, tell } = await judging(() => Promise.reject(new Error('out of memory')));
    tell(utterance(0));
    tell(utterance(1));
    await listener.stop();
    const troubles = told.flatMap((e) => (e.type === 'trouble' ? [e.trouble] : []));
    expect(troubles).toHaveLength(1);
    expect(troubles[0]!.message).toContain('out of memory');
    expect(told.filter(({ type }) => type === 'utterance')).toEqual([utterance(0), utterance(1)]);
  });

  it('puts a judge away that is too slow on this machine, with the figure', async () => {
    let now = 0;
    let asked = 0;
    const { listener, told, tell } = await judging(
      (said) => {
        asked++;
        return Promise.resolve(said);
      },
      () => (now += 1500),
    );
    for (let id = 0; id < 8; id++) tell(utterance(id));
    await listener.stop();
    expect(asked).toBe(5);
    expect(told.filter(({ type }) => type === 'utterance')).toHaveLength(8);
    expect(told.find((e) => e.type === 'trouble')).toMatchObject({
      trouble: { kind: 'judge', message: expect.stringContaining('1500 ms') as string },
    });
  });
});
