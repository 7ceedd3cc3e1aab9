import { attend } from '../../../app/run/attend.ts';
import type { Utterance } from '../../../app/language/utterance.ts';
import { markRehearsal } from '../../../app/marking/result.ts';
import { BEFORE, fold, type State } from '../../../app/marking/state.ts';
import type { Checklist } from '../../../app/skills/checklist.ts';
import type { Form } from './forms.ts';

/**
 * What a spoken reading came to. `right`: believed, and the number that was said; `asked`: not believed, so the coach asks and the mark
 * is unsure; `silently wrong`: believed, and another number; `missed`: nothing was taken for a reading.
 */
export const OUTCOMES = ['right', 'asked', 'silently wrong', 'missed'] as const;
export type Outcome = (typeof OUTCOMES)[number];

/** Of several numbers the worst counts. */
const WORST: readonly Outcome[] = ['silently wrong', 'missed', 'asked', 'right'];

/** How the utterances of a form are marked when all other steps have been said. */
export function judge(
  checklist: Checklist,
  form: Form,
  utterances: readonly Utterance[],
): { readonly outcome: Outcome; readonly found: string } {
  const state = utterances.reduce(
    (state, utterance) =>
      attend(checklist, state, { ...utterance, id: utterance.id + 1 }).reduce(fold, state),
    before(checklist, form),
  );
  const { readings } = state;
  const outcomes = Object.entries(form.truth).map(([step, value]): Outcome => {
    const reading = readings[step];
    const isAsked = markRehearsal(checklist, state).steps.find(({ id }) => id === step)?.outcome === 'unsure';
    if (isAsked || reading?.sure === false) return 'asked';
    if (!reading || (form.isAnswer && reading.evidence.utterance === 0)) return 'missed';
    return Math.abs(reading.value - value) < 0.051 ? 'right' : 'silently wrong';
  });
  const found = Object.entries(readings).map(
    ([step, r]) => `${step} ${r.value}${r.sure ? '' : ' ?'} ${r.why ?? ''}${r.rivals.join()}`,
  );
  return { outcome: WORST.find((each) => outcomes.includes(each)) ?? 'missed', found: found.join('; ') };
}

/** All other steps said; where the form is an answer, the coach has just read back another number, which was not sure. */
function before({ steps }: Checklist, { truth, isAnswer }: Form): State {
  const evidence = { utterance: 0, text: '', start: -9, end: -8, score: 1, manner: 'done' } as const;
  const isRead = (id: string): boolean => id in truth;
  const credits = steps.flatMap(({ id }) => (isAnswer || !isRead(id) ? [[id, [evidence]] as const] : []));
  const state = { ...BEFORE, credits: Object.fromEntries(credits) };
  if (!isAnswer) return state;
  const asked = Object.entries(truth).map(([step, value]) => ({ step, value: value + 2 }));
  const { manner, ...plain } = evidence;
  void manner;
  const read = asked.map(
    ({ step, value }) => ({ type: 'reading', step, value, sure: true, rivals: [], evidence: plain }) as const,
  );
  return [...read, { type: 'read back', readings: asked, at: -7 } as const].reduce(fold, state);
}
