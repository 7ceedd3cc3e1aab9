import { compare, type Comparison, type Counting, type Unit } from '../bench/readings/reading.ts';
import { instrumentsOf, type Instruments } from '../bench/resident/instruments.ts';
import {
  containerRemarks,
  countRemarks,
  cuffRemarks,
  scaleRemarks,
  type BenchRemark,
} from '../bench/resident/remarks.ts';
import type { Resident } from '../bench/resident/resident.ts';
import {
  countTruth,
  isHalfMinute,
  lookBackAtCuff,
  soundTruth,
  volumeTruth,
  weightTruth,
  type CuffLookedBack,
  type SaidCount,
  type Truth,
} from '../bench/resident/truth.ts';
import { BEAMS, type Beam, type WeightUnit } from '../bench/scale.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { Measure } from '../skills/measure.ts';
import type { Step } from '../skills/skill.ts';
import type { State } from './state.ts';

/** A simulated resident's truth beside what a rehearsal came to. All of it follows from the events. */

const UNITS: Readonly<Record<Measure, readonly Unit[]>> = {
  respirations: ['breaths a minute'],
  pulse: ['beats a minute'],
  pressure: ['mmHg'],
  urine: ['millilitres'],
  weight: ['pounds', 'kilograms'],
};

/** The unit of a step's reading, where it is one that the measure has. */
function unitOf({ evidence }: Step, measure: Measure): Unit | null {
  if (evidence.kind !== 'reading') return null;
  return UNITS[measure].find((unit) => unit === evidence.unit) ?? null;
}

/** The scale's beam: in kilograms where the skill asks for the weight in them. */
export function beamOf({ steps }: Pick<Checklist, 'steps'>): Beam {
  const asked = steps.some((step) => unitOf(step, 'weight') === 'kilograms');
  const unit: WeightUnit = asked ? 'kilograms' : 'pounds';
  return BEAMS[unit];
}

/** The truth for a step's reading: null where there is no simulated resident for it, or before the skill is over. */
export function truthOf(checklist: Checklist, state: State, step: Step): Truth | 'not measured' | null {
  const { bench, ended } = state;
  if (!bench || ended === null || !unitOf(step, bench.resident.measure)) return null;
  const { resident, handled } = bench;
  switch (resident.measure) {
    case 'respirations':
    case 'pulse': {
      const count = countOf(checklist, state, resident);
      return count ? countTruth(resident, count.said, count.isHalf) : 'not measured';
    }
    case 'pressure': {
      const which = step.evidence.kind === 'reading' ? step.evidence.which : 'last';
      return soundTruth(resident, handled, ended - resident.at, which) ?? 'not measured';
    }
    case 'urine':
      return volumeTruth(resident);
    case 'weight':
      return weightTruth(resident, beamOf(checklist));
  }
}

/** The count that the number is from. */
interface Count {
  readonly said: SaidCount;
  readonly counting: Counting;
  /** Whether half a minute, doubled, is the measurement. */
  readonly isHalf: boolean;
}

/** A count this long, in seconds, was meant as one: what is shorter may be a false start. */
const MEANT_FROM = 25;

/** The last go at the step that counts that is long enough to be one, else the longest. */
function countOf({ steps }: Checklist, { timings }: State, resident: Resident): Count | null {
  const step = steps.find(({ bench, evidence }) => bench === 'count' && evidence.kind === 'timed');
  if (step?.evidence.kind !== 'timed') return null;
  const own = timings.filter((timing) => timing.step === step.id && timing.from >= resident.at);
  const length = ({ from, to }: (typeof own)[number]): number => (to === null ? 0 : to - from);
  const longest = own.toSorted((a, b) => length(b) - length(a))[0];
  const timing = own.findLast((each) => length(each) >= MEANT_FROM) ?? longest;
  if (!timing) return null;
  const { from, to, uncertainty } = timing;
  const met = resident.at;
  const said: SaidCount = { from: from - met, to: to === null ? null : to - met, uncertainty };
  const irregular = resident.pattern === 'irregular' ? 'irregular' : 'regular';
  const pattern = resident.measure === 'respirations' ? 'breaths' : irregular;
  const mayHalve = pattern !== 'breaths' && step.evidence.atLeast <= 30;
  const isHalf = mayHalve && pattern === 'regular' && isHalfMinute(said);
  return { said, counting: { mayHalve, pattern }, isHalf };
}

/** A step's reading and the truth. */
export interface ReadingLookedBack {
  readonly step: string;
  readonly unit: Unit;
  /** Null where nothing was measured. */
  readonly truth: number | null;
  /** Null where there is no truth, or no number was clearly heard. */
  readonly comparison: Comparison | null;
  /** A number that was heard, but not clearly enough to be compared. */
  readonly unclear: number | null;
}

/** What a rehearsal with a simulated resident came to. */
export interface LookedBack {
  readonly resident: Resident;
  readonly readings: readonly ReadingLookedBack[];
  readonly remarks: readonly BenchRemark[];
  /** The count of breaths or beats; null where none was heard, and for other measures. */
  readonly count: Pick<Count, 'said' | 'isHalf'> | null;
  /** What was done with the cuff; null for other measures. */
  readonly cuff: CuffLookedBack | null;
  readonly instruments: Instruments;
  readonly beam: Beam;
}

/** Looks back at what was measured on a simulated resident; null where there was none, or the skill is not over. */
export function lookBackOn(checklist: Checklist, state: State): LookedBack | null {
  const { bench, ended } = state;
  if (!bench || ended === null) return null;
  const { resident, handled } = bench;
  const readings = readingsOf(checklist, state, resident.measure);
  const isCount = resident.measure === 'respirations' || resident.measure === 'pulse';
  const count = isCount ? countOf(checklist, state, resident) : null;
  const cuff =
    resident.measure === 'pressure' ? lookBackAtCuff(resident, handled, ended - resident.at) : null;
  const instruments = instrumentsOf(resident.at, handled);
  const beam = beamOf(checklist);
  const recorded = readings[0]?.comparison?.recorded ?? null;
  const remarks: Readonly<Record<Measure, () => readonly BenchRemark[]>> = {
    respirations: () => (count ? countRemarks(resident, handled, count.said, count.counting, recorded) : []),
    pulse: () => (count ? countRemarks(resident, handled, count.said, count.counting, recorded) : []),
    pressure: () => (cuff ? cuffRemarks(cuff) : []),
    urine: () => containerRemarks(instruments),
    weight: () => scaleRemarks(resident, instruments, beam),
  };
  return { resident, readings, remarks: remarks[resident.measure](), count, cuff, instruments, beam };
}

function readingsOf(checklist: Checklist, state: State, measure: Measure): ReadingLookedBack[] {
  return checklist.steps.flatMap((step) => {
    const unit = unitOf(step, measure);
    if (!unit) return [];
    const had = truthOf(checklist, state, step);
    const truth = had === null || had === 'not measured' ? null : had.value;
    const { value = null, sure = false } = state.readings[step.id] ?? {};
    const said = sure ? value : null;
    const isBoth = truth !== null && said !== null;
    const comparison = isBoth ? compare({ unit, truth, recorded: said, said }, checklist.rules) : null;
    return [{ step: step.id, unit, truth, comparison, unclear: sure ? null : value }];
  });
}
