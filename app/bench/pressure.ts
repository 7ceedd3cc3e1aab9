import { randomFrom } from '../skills/random.ts';
import type { Pulse } from './pulse.ts';
import { between, type Moment } from './rhythm.ts';

/**
 * Numbers of the guidance on measuring by ear. Looked up in the AHA–ACC summary adapted from Pickering et al. 2005: arm at heart height,
 * bladder round at least 80 % of the arm, let down at 2 to 3 mmHg a second, first and last sound are the two numbers. From memory: the AHA
 * scientific statement "Measurement of Blood Pressure in Humans" (Muntner et al., Hypertension 2019;73:e35–e66) and the ACC/AHA guideline
 * of 2017, 2 mmHg a second, read to the nearest even number.
 */
export const GUIDANCE = {
  /** Pump up to this far above where the wrist pulse goes, in mmHg: 30 (AHA 2019); 20 to 30 (ACC/AHA 2017) is let pass. */
  above: 30,
  leastAbove: 20,
  /** Let down 2 to 3 mmHg a second. */
  slowest: 2,
  fastest: 3,
  /** The gauge has a mark every 2 mmHg, and one reads to the nearest. */
  mark: 2,
  /** The cuff's bladder is to go round at least this share of the arm. */
  bladderShare: 0.8,
} as const;

/** What the cuff squeezes, pressures in mmHg. The resident's own lie on marks of the gauge. */
export interface Arm {
  readonly systolic: number;
  readonly diastolic: number;
  /** An auscultatory gap: no sound in between, though the artery is still squeezed. */
  readonly gap: { readonly from: number; readonly to: number } | null;
}

/** One press of the bulb raises the pressure by `SQUEEZE`; the valve lets it fall by `rate` mmHg a second, 0 being shut. */
export type CuffAction = Moment &
  ({ readonly do: 'squeeze' } | { readonly do: 'valve'; readonly rate: number });

export const SQUEEZE = 10;
const SQUEEZE_SECONDS = 0.25;
/** Where the gauge ends, in mmHg. */
export const HIGHEST = 300;
/** With the valve all the way open, in mmHg a second. */
export const OPEN = 30;

/** Pressure in the cuff at a moment; between two of them it changes evenly. */
export interface CuffPoint extends Moment {
  readonly pressure: number;
}

const toMark = (pressure: number): number => Math.round(pressure / GUIDANCE.mark) * GUIDANCE.mark;

/**
 * A resident's arm. Common practice, no source: an ordinary upper number between 100 and 150, 30 to 60 above the lower one; with a gap, which goes with
 * high pressure, 150 to 190, the gap some 16 to 30 wide and some 10 to 16 below the upper number.
 */
export function armOf(seed: number, withGap: boolean): Arm {
  const random = randomFrom(seed);
  const systolic = toMark(between(random, withGap ? [150, 190] : [100, 150]));
  const diastolic = toMark(systolic - between(random, withGap ? [66, 84] : [30, 60]));
  const from = toMark(systolic - between(random, [10, 16]));
  return {
    systolic,
    diastolic,
    gap: withGap ? { from, to: toMark(from - between(random, [16, 30])) } : null,
  };
}

/**
 * The same arm, hanging below (above: negative) the height of the heart: every pressure is higher by the weight of the blood in
 * between, 1.06 g/cm³ · 9.81 m/s² = 0.78 mmHg a centimetre, or 2 mmHg an inch (AHA 2019).
 */
export function placedBelowHeart(arm: Arm, centimetres: number): Arm {
  const more = 0.78 * centimetres;
  return {
    systolic: arm.systolic + more,
    diastolic: arm.diastolic + more,
    gap: arm.gap && { from: arm.gap.from + more, to: arm.gap.to + more },
  };
}

/** Whether a cuff's bladder is long enough for the arm, both in centimetres. */
export const bladderFits = (bladder: number, armRound: number): boolean =>
  bladder >= GUIDANCE.bladderShare * armRound;

/** The pressure in the cuff up to `until`, for what was done to it, in the order of time. It begins empty and shut. */
export function cuffTrace(actions: readonly CuffAction[], until: number): readonly CuffPoint[] {
  const points: CuffPoint[] = [{ at: 0, pressure: 0 }];
  let rate = 0;
  const fallTo = (at: number): number => {
    const last = points.at(-1)!; // the list begins with one
    if (at <= last.at) return last.pressure;
    const empty = rate > 0 ? last.at + last.pressure / rate : Infinity;
    if (empty < at) points.push({ at: empty, pressure: 0 });
    const pressure = Math.max(0, last.pressure - rate * (at - last.at));
    points.push({ at, pressure });
    return pressure;
  };
  for (const action of actions.filter(({ at }) => at <= until)) {
    const pressure = fallTo(action.at);
    if (action.do === 'valve') rate = action.rate;
    else {
      const from = points.at(-1)!.at; // the same one
      points.push({ at: from + SQUEEZE_SECONDS, pressure: Math.min(HIGHEST, pressure + SQUEEZE) });
    }
  }
  fallTo(until);
  return points;
}

/** The pressure at a moment: what the needle shows. */
export function pressureAt(points: readonly CuffPoint[], at: number): number {
  const after = points.findIndex((point) => point.at >= at);
  const [from, to] = [points[after - 1], points[after]];
  if (!to) return points.at(-1)?.pressure ?? 0;
  if (!from) return to.pressure;
  const share = to.at > from.at ? (at - from.at) / (to.at - from.at) : 1;
  return from.pressure + share * (to.pressure - from.pressure);
}

/** A Korotkoff phase that can be heard: 1 clear tapping, 2 softer with a swish, 3 louder and crisp, 4 muffled. 5 is silence. */
export type Phase = 1 | 2 | 3 | 4;

/** Where phases 1 to 3 end, as shares of the way from the upper to the lower number (common teaching, from memory). */
const ENDS: readonly (readonly [number, Phase])[] = [
  [0.3, 1],
  [0.62, 2],
  [0.85, 3],
];

/** What a beat sounds like over the artery at a pressure of the cuff, or null where there is nothing to hear. */
export function phaseAt({ systolic, diastolic, gap }: Arm, pressure: number): Phase | null {
  if (pressure > systolic || pressure < diastolic) return null;
  if (gap && pressure <= gap.from && pressure > gap.to) return null;
  const way = (systolic - pressure) / (systolic - diastolic);
  return ENDS.find(([end]) => way < end)?.[1] ?? 4;
}

/** Whether the pulse at the wrist can be felt below the cuff. */
export const wristIsFelt = ({ systolic }: Arm, pressure: number): boolean => pressure < systolic;

/** A beat that was heard: when, at which pressure, what it sounded like. */
export interface HeardBeat extends CuffPoint {
  readonly phase: Phase;
}

export function heardBeats(arm: Arm, { beats }: Pulse, points: readonly CuffPoint[]): readonly HeardBeat[] {
  const end = points.at(-1)?.at ?? 0;
  return beats
    .filter(({ at }) => at >= 0 && at <= end)
    .flatMap(({ at }) => {
      const pressure = pressureAt(points, at);
      const phase = phaseAt(arm, pressure);
      return phase === null ? [] : [{ at, pressure, phase }];
    });
}

export type CuffRemark =
  'not high enough' | 'too fast' | 'too slow' | 'stopped on the way' | 'pumped up again' | 'began in the gap';

/** What came of letting the cuff down the last time. */
export interface Measured {
  /** Pressure of the first and the last sound, to the nearest mark: the truth of this measurement. Null where nothing was heard. */
  readonly first: number | null;
  readonly last: number | null;
  readonly peak: number;
  /** How fast it fell while one had to listen, stops left out, in mmHg a second; null where it did not fall. */
  readonly rate: number | null;
  readonly remarks: readonly CuffRemark[];
}

/** Below this the cuff counts as empty, and pumping it up is a new measurement. */
const EMPTY = 20;
/** How much may fall at a wrong speed before it is told, and how long it may stand still: two marks, five marks, two seconds. */
const TOO_FAST_FOR = 4;
const TOO_SLOW_FOR = 10;
const STILL_FOR = 2;

interface Piece {
  readonly fall: number;
  readonly seconds: number;
}

/** Looks back at the last measurement: its truth, and what was done otherwise than the guidance says. */
export function lookBack(arm: Arm, pulse: Pulse, points: readonly CuffPoint[]): Measured {
  const emptyBefore = points.findLastIndex((point, i) => point.pressure < EMPTY && isHigher(points[i + 1]));
  const cuff = points.slice(Math.max(0, emptyBefore));
  const top = cuff.findLastIndex((point, i) => i > 0 && point.pressure > cuff[i - 1]!.pressure); // i − 1 ≥ 0
  const descent = cuff.slice(Math.max(0, top));
  const peak = descent[0]?.pressure ?? 0;
  const heard = heardBeats(arm, pulse, descent).filter(({ at }) => at >= (descent[0]?.at ?? 0));
  const pieces = piecesBetween(descent, Math.min(peak, arm.systolic + 10), arm.diastolic);
  const falls = pieces.filter(({ fall }) => fall > 0);
  const total = sum(falls);
  const [first, last] = [heard[0], heard.at(-1)];
  return {
    first: first ? toMark(first.pressure) : null,
    last: last ? toMark(last.pressure) : null,
    peak,
    rate: total.seconds > 0 ? total.fall / total.seconds : null,
    remarks: remarksOn(arm, peak, pieces, wasPumpedAgain(cuff.slice(0, top + 1))),
  };
}

const isHigher = (next: CuffPoint | undefined): boolean => next !== undefined && next.pressure >= EMPTY;

/** Whether the pressure had fallen by more than two marks before it was raised once more. */
function wasPumpedAgain(climb: readonly CuffPoint[]): boolean {
  let highest = 0;
  return climb.some((point, i) => {
    highest = Math.max(highest, point.pressure);
    const next = climb[i + 1];
    return next !== undefined && next.pressure > point.pressure && highest - point.pressure > TOO_FAST_FOR;
  });
}

/** The stretches of a descent between two pressures. */
function piecesBetween(descent: readonly CuffPoint[], from: number, to: number): readonly Piece[] {
  return descent.slice(1).flatMap((end, i) => {
    const start = descent[i]!; // slice(1) has one before each
    const seconds = end.at - start.at;
    const fall = start.pressure - end.pressure;
    if (start.pressure < to || end.pressure > from || seconds <= 0) return [];
    if (fall <= 0) return [{ fall: 0, seconds }];
    const within = Math.min(start.pressure, from) - Math.max(end.pressure, to);
    return [{ fall: within, seconds: (seconds * within) / fall }];
  });
}

const sum = (pieces: readonly Piece[]): Piece => ({
  fall: pieces.reduce((all, { fall }) => all + fall, 0),
  seconds: pieces.reduce((all, { seconds }) => all + seconds, 0),
});

function remarksOn(
  arm: Arm,
  peak: number,
  pieces: readonly Piece[],
  pumpedAgain: boolean,
): readonly CuffRemark[] {
  const fallWhere = (wrong: (rate: number) => boolean): number =>
    sum(pieces.filter(({ fall, seconds }) => fall > 0 && wrong(fall / seconds))).fall;
  // A breadth of rounding: 3 mmHg a second is not too fast.
  const slack = 1e-6;
  const inGap = arm.gap !== null && peak <= arm.gap.from && peak > arm.gap.to;
  const said: readonly (readonly [CuffRemark, boolean])[] = [
    ['not high enough', peak < arm.systolic + GUIDANCE.leastAbove],
    ['began in the gap', inGap],
    ['too fast', fallWhere((rate) => rate > GUIDANCE.fastest + slack) > TOO_FAST_FOR],
    ['too slow', fallWhere((rate) => rate < GUIDANCE.slowest - slack) > TOO_SLOW_FOR],
    ['stopped on the way', sum(pieces.filter(({ fall }) => fall === 0)).seconds >= STILL_FOR],
    ['pumped up again', pumpedAgain],
  ];
  return said.filter(([, is]) => is).map(([remark]) => remark);
}
