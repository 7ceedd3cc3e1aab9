import type { BenchStep } from '../../skills/measure.ts';
import { OPEN } from '../pressure.ts';
import type { Beam } from '../scale.ts';
import { STANDING, type Handling, type Instruments } from './instruments.ts';

/** What the trainee asks of the instruments, by voice, by key or by a step that was credited. */
export type Ask =
  | { readonly ask: Exclude<BenchStep, 'look' | 'hold' | 'count' | 'pump'> }
  | {
      readonly ask:
        | 'fingers on'
        | 'fingers off'
        | 'squeeze'
        | 'enough'
        | 'slower'
        | 'faster'
        | 'shut'
        | 'feel'
        | 'lower'
        | 'higher';
    }
  /** `to`: mmHg up to which it is pumped; null for until it is enough. */
  | { readonly ask: 'pump'; readonly to: number | null }
  /** `to` in the beam's unit; `by` in notches of the large poise and in marks of the small one. */
  | { readonly ask: 'large' | 'small'; readonly to: number }
  | { readonly ask: 'large by' | 'small by'; readonly by: number };

/** How the valve can stand, from shut to all the way open, in mmHg a second. The trainee judges by the needle. */
export const VALVE = [0, 1, 2, 2.5, 3, 4, 6, 10, OPEN] as const;

/** Where a valve may stand when it is first opened: some let the air down rightly, some must be put right. */
const FIRST_OPENINGS = [2, 2.5, 3, 4, 6] as const;

/** How far one moves at a time before a container, in degrees. */
const BEND = 4;

/** The rates that are asked for by "slower" and "faster": never shut, and all the way open only by its own name. */
const RATES = VALVE.slice(1, -1);

/** What of the room's instruments an ask needs to know besides how they stand. */
export interface With {
  readonly seed: number;
  readonly beam: Beam;
}

/** What an ask does to the instruments as they stand; nothing where there is nothing to do. `pump` goes on by itself: see `squeeze`. */
export function handlingsOf(ask: Ask, now: Instruments, { seed, beam }: With): readonly Handling[] {
  switch (ask.ask) {
    case 'fingers on':
      return now.fingersOn ? [] : [{ do: 'fingers', on: true }];
    case 'fingers off':
      return now.fingersOn ? [{ do: 'fingers', on: false }] : [];
    case 'pump':
    case 'enough':
      return [];
    case 'squeeze':
      // Pumping with the valve open only lets the air through; the hand that pumps shuts it first.
      return [...(now.valve > 0 ? [shut] : []), { do: 'squeeze' }];
    case 'let down':
      return now.valve > 0 ? [] : [{ do: 'valve', rate: firstOpening(seed) }];
    case 'slower':
      return now.valve > 0 ? [{ do: 'valve', rate: RATES.findLast((rate) => rate < now.valve) ?? 1 }] : [];
    case 'faster':
      return [{ do: 'valve', rate: RATES.find((rate) => rate > now.valve) ?? Math.max(10, now.valve) }];
    case 'shut':
      return now.valve > 0 ? [shut] : [];
    case 'all air out':
      return now.valve < OPEN ? [{ do: 'valve', rate: OPEN }] : [];
    case 'listen':
    case 'feel':
      return now.listens === (ask.ask === 'listen') ? [] : [{ do: 'listen', on: ask.ask === 'listen' }];
    case 'support arm':
      return now.isSupported ? [] : [{ do: 'support arm' }];
    case 'eye level':
      return lookFrom(now, 0);
    case 'lower':
      return lookFrom(now, Math.max(0, now.above - BEND));
    case 'higher':
      return lookFrom(now, Math.min(STANDING, now.above + BEND));
    case 'set to zero':
      return now.isZeroed ? [] : [{ do: 'set to zero' }];
    case 'step on':
    case 'step off':
      return now.isOnScale === (ask.ask === 'step on') ? [] : [{ do: 'stand', on: ask.ask === 'step on' }];
    case 'large':
    case 'small':
    case 'large by':
    case 'small by':
      return movePoise(ask, now, beam);
  }
}

const shut: Handling = { do: 'valve', rate: 0 };

const firstOpening = (seed: number): number => FIRST_OPENINGS[seed % FIRST_OPENINGS.length] ?? 3;

const lookFrom = (now: Instruments, above: number): readonly Handling[] =>
  above === now.above ? [] : [{ do: 'look', above }];

/** A poise moved to a place, or on by some; the large one rests in notches only, the small one on marks. */
function movePoise(
  ask: Ask & { readonly ask: 'large' | 'small' | 'large by' | 'small by' },
  { poises }: Instruments,
  { notch, notches, mark }: Beam,
): readonly Handling[] {
  const { large, small } = poises;
  const within = (value: number, most: number): number => Math.max(0, Math.min(most, Math.round(value)));
  switch (ask.ask) {
    case 'large':
      return [{ do: 'poises', large: within(ask.to / notch, notches), small }];
    case 'large by':
      return [{ do: 'poises', large: within(large + ask.by, notches), small }];
    case 'small':
      return [{ do: 'poises', large, small: within(ask.to / mark, notch / mark) * mark }];
    case 'small by':
      return [{ do: 'poises', large, small: within(small / mark + ask.by, notch / mark) * mark }];
  }
}

/** What a step that was credited asks for; null where that is nothing of its own. A count is the step's clock. */
export function askOfStep(does: BenchStep, number: number | null): Ask | null {
  switch (does) {
    case 'look':
    case 'count':
      return null;
    case 'hold':
      return { ask: 'fingers on' };
    case 'pump':
      return { ask: 'pump', to: pumpedTo(number) };
    default:
      return { ask: does };
  }
}

/** A number that is said with pumping, where it can be a pressure to pump to: "about thirty above" is none. */
export const pumpedTo = (number: number | null): number | null =>
  number !== null && number >= 80 && number <= 300 ? number : null;
