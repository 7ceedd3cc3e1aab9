import type { Ask } from '../../app/bench/resident/asks.ts';
import type { Instruments } from '../../app/bench/resident/instruments.ts';
import type { Measure } from '../../app/skills/measure.ts';

/** One thing that the trainee can do: by saying it, by a key, by touch. No key means anything else in the room. */
export interface Hand {
  /** `KeyboardEvent.key` in lower case, and how it is written. */
  readonly key: string;
  readonly sign: string;
  readonly says: string;
  readonly ask: (now: Instruments) => Ask;
  /** Whether a key that is held down does it again and again. */
  readonly repeats?: boolean;
}

const hand = (key: string, says: string, ask: Ask): Hand => ({
  key,
  sign: key.toUpperCase(),
  says,
  ask: () => ask,
});

/** Marks that the small poise slides at once. */
const FAR = 10;

export const HANDS: Readonly<Record<Measure, readonly Hand[]>> = {
  respirations: [],
  pulse: [
    {
      ...hand('h', 'I have the pulse', { ask: 'fingers on' }),
      ask: ({ fingersOn }) => ({ ask: fingersOn ? 'fingers off' : 'fingers on' }),
    },
  ],
  pressure: [
    hand('p', 'pump it up', { ask: 'squeeze' }),
    hand('h', 'high enough', { ask: 'enough' }),
    hand('l', 'let it down', { ask: 'let down' }),
    hand('d', 'a little slower', { ask: 'slower' }),
    hand('f', 'a little faster', { ask: 'faster' }),
    hand('a', 'all the air out', { ask: 'all air out' }),
    {
      ...hand('e', 'I listen', { ask: 'listen' }),
      ask: ({ listens }) => ({ ask: listens ? 'feel' : 'listen' }),
    },
  ],
  urine: [
    hand('e', 'eye level', { ask: 'eye level' }),
    hand('d', 'a little lower', { ask: 'lower' }),
    hand('u', 'a little higher', { ask: 'higher' }),
  ],
  weight: [
    hand('z', 'set the scale to zero', { ask: 'set to zero' }),
    {
      ...hand('o', 'step up', { ask: 'step on' }),
      ask: ({ isOnScale }) => ({ ask: isOnScale ? 'step off' : 'step on' }),
    },
    hand('g', 'large poise on', { ask: 'large by', by: 1 }),
    hand('b', 'large poise back', { ask: 'large by', by: -1 }),
    hand('m', 'much more', { ask: 'small by', by: FAR }),
    hand('l', 'much less', { ask: 'small by', by: -FAR }),
    { ...hand('arrowup', 'a little more', { ask: 'small by', by: 1 }), sign: '↑', repeats: true },
    { ...hand('arrowdown', 'a little less', { ask: 'small by', by: -1 }), sign: '↓', repeats: true },
  ],
};
