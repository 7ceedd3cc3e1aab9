import { teenTwin } from '../../language/numberRivals.ts';
import { spellings } from '../../language/numbers.ts';
import { capitalised } from '../../language/words.ts';
import type { RehearsalEvent } from '../../marking/events.ts';
import { fold, type ReadBack, type Reading, type State } from '../../marking/state.ts';
import type { Checklist } from '../../skills/checklist.ts';

/** How the coach reads numbers back, in coached style: for the trainee to hear whether they were heard right. */

/** What the coach says, and the numbers that can then be answered to; none where the whole has to be said again. */
export interface Question extends Pick<ReadBack, 'readings'> {
  readonly text: string;
}

interface Read {
  readonly step: string;
  readonly unit: string;
  readonly reading: Reading;
}

/**
 * What the coach says to the numbers of an utterance; null where there is nothing to say: no number, or one that stood before.
 *
 * @param before the state that the events found
 */
export function readBackOf(
  checklist: Checklist,
  before: State,
  events: readonly RehearsalEvent[],
): Question | null {
  const after = events.reduce(fold, before);
  const has = (type: RehearsalEvent['type'], step: string): boolean =>
    events.some((event) => event.type === type && 'step' in event && event.step === step);
  const fresh = checklist.steps.flatMap(({ id, evidence }): Read[] => {
    const reading = after.readings[id];
    if (evidence.kind !== 'reading' || !reading || !has('reading', id)) return [];
    const was = before.readings[id];
    const stood = was?.sure === true && reading.sure && was.value === reading.value;
    return stood ? [] : [{ step: id, unit: evidence.unit, reading }];
  });
  if (fresh.length === 0) return askAgain(checklist, after, has);
  // Only what it was said for is not known: the number cannot be confirmed alone.
  const due = fresh.find(({ step }) => has('doubted', step));
  if (due) {
    const text = `${capitalised(inWords(due.reading.value))}? If that is your number, say that you write it down.`;
    return { text, readings: [] };
  }
  const readings = fresh.map(({ step, reading: { value } }) => ({ step, value }));
  return { text: questionOn(fresh), readings };
}

/** What the coach says where there is no number: it was taken back, or only the words around it were heard. */
function askAgain(
  { steps }: Checklist,
  { readings }: State,
  has: (type: RehearsalEvent['type'], step: string) => boolean,
): Question | null {
  const lacking = steps.filter(({ id, evidence }) => {
    if (evidence.kind !== 'reading') return false;
    return has('taken back', id) || (!readings[id] && (has('credited', id) || has('doubted', id)));
  });
  const asked = lacking.map(({ id }) => ({ step: id, value: null }));
  return asked.length > 0 ? { text: 'I did not get the number. Say it again.', readings: asked } : null;
}

function questionOn(fresh: readonly Read[]): string {
  const asked = fresh.find(({ reading: { why } }) => why !== null && why !== 'changed');
  if (asked) return askedAbout(asked);
  const isPressure = fresh.every(({ unit }) => unit === 'mmHg');
  const [only, ...more] = fresh.map(({ reading: { value } }) => value);
  if (only !== undefined && more.length === 0) return `${capitalised(inWords(only))}. Right?`;
  return `${[only, ...more].join(isPressure ? ' over ' : ', ')}. Right?`;
}

function askedAbout({ unit, reading: { value, why, said } }: Read): string {
  switch (why) {
    case 'unusual':
      return `${capitalised(inWords(value))} ${unit} would be very unusual. Is it right?`;
    case 'other unit':
      return `${capitalised(inWords(value))} ${said?.unit ?? ''}? Here ${unit} are asked for. Say it again.`;
    default:
      return `Was it ${inWords(value)}${digitsOf(value)}?`;
  }
}

/** Teens and tens sound alike, their digits do not: "eighteen: one, eight". */
const digitsOf = (value: number): string =>
  teenTwin(value) === null || !Number.isInteger(value)
    ? ''
    : `: ${[...String(value)].map((digit) => spellings(Number(digit))[0] ?? digit).join(', ')}`;

/** A number as the coach says it: in words up to a hundred, in figures beyond, which voices read well. */
const inWords = (value: number): string =>
  Number.isInteger(value) && value < 100 ? (spellings(value)[0] ?? String(value)) : String(value);
