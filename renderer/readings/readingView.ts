import type { State } from '../../app/marking/state.ts';
import { ANSWER_WITHIN } from '../../app/interpreting/reading/readings.ts';
import type { Checklist } from '../../app/skills/checklist.ts';

/** A number that was read, as the room shows it: large, for as long as the trainee may answer to it. */
export interface ReadingView {
  /** "16", "118/76". */
  readonly figure: string;
  readonly unit: string;
  /** `asked`: it does not count as it stands. */
  readonly state: 'heard' | 'asked';
}

/** The numbers that were read back and can be answered to; null where there are none. `now` in seconds of the recording. */
export function readingOf(
  { steps }: Checklist,
  { readBack, readings }: State,
  now: number,
): ReadingView | null {
  if (!readBack || now - readBack.at > ANSWER_WITHIN) return null;
  const read = readBack.readings.flatMap(({ step }) => {
    const evidence = steps.find(({ id }) => id === step)?.evidence;
    const reading = readings[step];
    return evidence?.kind === 'reading' && reading ? [{ unit: evidence.unit, reading }] : [];
  });
  const [first] = read;
  if (!first) return null;
  const { unit, reading } = first;
  return {
    figure: read.map(({ reading: { value } }) => String(value)).join(unit === 'mmHg' ? '/' : ', '),
    unit: reading.why === 'other unit' ? (reading.said?.unit ?? unit) : unit,
    state: read.every(({ reading: { sure } }) => sure) ? 'heard' : 'asked',
  };
}
