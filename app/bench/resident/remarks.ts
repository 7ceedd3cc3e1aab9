import type { CuffRemark } from '../pressure.ts';
import { remarkOn, type CountRemark, type Counting } from '../readings/reading.ts';
import { imbalance, isBalanced, loadFrom, type Beam } from '../scale.ts';
import { instrumentsOf, type Handled, type Instruments } from './instruments.ts';
import type { Resident } from './resident.ts';
import { countTruth, isHalfMinute, type CuffLookedBack, type SaidCount } from './truth.ts';

/** What was done otherwise than it should be with a simulated resident, told afterwards. */
export type BenchRemark =
  | CountRemark
  | CuffRemark
  | 'no stop heard'
  | 'not doubled'
  | 'doubled'
  | 'pulse not held'
  | 'arm hung down'
  | 'read from above'
  | 'not set to zero'
  | 'did not balance';

/** How far a number may be from what one slip would give, for that slip to be told. */
const LIKE = 2;

/**
 * What to tell of a count.
 *
 * @param recorded the number that was said; null where none was heard
 */
export function countRemarks(
  resident: Resident,
  handled: readonly Handled[],
  count: SaidCount,
  counting: Counting,
  recorded: number | null,
): readonly BenchRemark[] {
  const { from, to } = count;
  const length: BenchRemark | null = to === null ? 'no stop heard' : remarkOn({ from, to }, counting);
  const said = recorded === null ? null : doublingOf(resident, count, counting, recorded);
  const touched = handled.filter(({ at }) => at - resident.at <= from);
  const isHeld = resident.measure !== 'pulse' || instrumentsOf(resident.at, touched).fingersOn;
  return [
    ...(length === null ? [] : [length]),
    ...(said === null ? [] : [said]),
    ...(isHeld ? [] : ['pulse not held' as const]),
  ];
}

/** Whether a number looks like that of half a minute not doubled, or of a whole one doubled. */
function doublingOf(
  resident: Resident,
  count: SaidCount,
  { mayHalve }: Counting,
  recorded: number,
): BenchRemark | null {
  const { value } = countTruth(resident, count);
  const isLike = (other: number): boolean =>
    Math.abs(recorded - other) <= LIKE && Math.abs(recorded - value) > LIKE;
  if (isHalfMinute(count) && isLike(value / 2)) return mayHalve ? 'not doubled' : null;
  return count.to !== null && !isHalfMinute(count) && isLike(value * 2) ? 'doubled' : null;
}

/** What to tell of how the cuff was used. */
export const cuffRemarks = ({ measured, instruments }: CuffLookedBack): readonly BenchRemark[] => [
  ...(instruments.cuff.length > 0 ? measured.remarks : []),
  ...(instruments.isSupported ? [] : ['arm hung down' as const]),
];

/** What to tell of how the container was read. */
export const containerRemarks = ({ above }: Instruments): readonly BenchRemark[] =>
  above === 0 ? [] : ['read from above'];

/** What to tell of how the scale was used. */
export function scaleRemarks(
  { seed }: Resident,
  { isZeroed, poises }: Instruments,
  beam: Beam,
): readonly BenchRemark[] {
  const { weight, offZero } = loadFrom(seed, beam);
  const off = imbalance(beam, weight, poises, isZeroed ? 0 : offZero);
  return [
    ...(isZeroed ? [] : ['not set to zero' as const]),
    ...(isBalanced(beam, off) ? [] : ['did not balance' as const]),
  ];
}
