import type { Handling } from '../../../app/bench/resident/instruments.ts';
import { BEAMS, loadFrom } from '../../../app/bench/scale.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import type { Measure } from '../../../app/skills/measure.ts';
import type { Moment } from '../roomPage/page.tsx';

/** Simulated residents as screens and tests want them shown: met, handled, and measured. */

const SEED = 4711;

export const met = (measure: Measure, pattern: 'even' | 'regular' | 'plain' = 'plain'): RehearsalEvent => ({
  type: 'met',
  measure,
  seed: SEED,
  pattern,
  at: 0,
});

const handled = (at: number, how: Handling): RehearsalEvent => ({ type: 'handled', at, how });

/** A cuff pumped up from a second on, let down two seconds later at a rate in mmHg a second. */
export const squeezed = (from: number, to: number, rate: number): RehearsalEvent[] => [
  handled(from - 1, { do: 'support arm' }),
  handled(from - 0.5, { do: 'listen', on: true }),
  ...Array.from({ length: Math.ceil(to / 10) }, (_, i) => handled(from + 0.8 * i, { do: 'squeeze' })),
  handled(from + 0.08 * to + 2, { do: 'valve', rate }),
];

/** A weight set on the beam, off by so many marks. */
function weighed(off: number): RehearsalEvent[] {
  const beam = BEAMS.pounds;
  const { weight } = loadFrom(SEED, beam);
  const large = Math.floor(weight / beam.notch);
  return [
    handled(3, { do: 'set to zero' }),
    handled(4, { do: 'stand', on: true }),
    handled(5, { do: 'poises', large, small: weight - large * beam.notch + off * beam.mark }),
  ];
}

const credited = (step: string, at: number): RehearsalEvent => ({
  type: 'credited',
  step,
  evidence: { utterance: 0, text: 'said', start: at, end: at + 1, score: 1 },
});

const started = (at: number): RehearsalEvent => ({
  type: 'clock',
  step: 'count',
  move: 'start',
  at,
  uncertainty: 0.05,
  word: 1,
  evidence: { utterance: 0, text: 'Starting now.', start: at - 1, end: at, score: 1 },
});

/** Moments of the room with a resident in it, by what is measured. */
export const MOMENTS: Readonly<Record<string, Moment>> = {
  'bench breaths': {
    skill: 'respirations',
    events: [met('respirations', 'even'), credited('position', 10), credited('watch-chest', 15), started(20)],
    now: 41.3,
  },
  'bench breaths silent': {
    skill: 'respirations',
    events: [met('respirations', 'even'), credited('watch-chest', 15), started(20)],
    now: 41.3,
    silent: true,
  },
  'bench pulse': {
    skill: 'radial-pulse',
    events: [met('pulse', 'regular'), credited('pulse-place', 10), handled(11, { do: 'fingers', on: true })],
    now: 20.4,
  },
  'bench pressure': {
    skill: 'blood-pressure',
    events: [met('pressure'), credited('cuff-on', 10), credited('let-down', 38), ...squeezed(20, 160, 2.5)],
    now: 52.1,
  },
  'bench urine': { skill: 'urine-output', events: [met('urine'), credited('pour-over', 10)], now: 20 },
  'bench weight': {
    skill: 'standing-weight',
    events: [met('weight'), credited('step-up', 4), ...weighed(3)],
    now: 30,
  },
};
