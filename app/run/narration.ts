import { z } from 'zod';
import { attend } from './attend.ts';
import type { Outcome } from '../marking/assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import { markRehearsal } from '../marking/result.ts';
import { BEFORE, fold } from '../marking/state.ts';
import { heardClearly, type Utterance } from '../language/utterance.ts';

/**
 * A narration of a skill with the marks it must get: what a skill's author writes to see that the skill works. Lives in the
 * folder `narrations` beside the skills, one file each.
 */
const steps = z.array(z.string()).default([]);
export const NarrationSchema = z.strictObject({
  skill: z.string(),
  variants: z.record(z.string(), z.string()).default({}),
  /** What it shows: "everything said", "call light forgotten". */
  title: z.string().trim().min(1),
  /** What is said, line by line. A number is a silence in seconds; without one there are two. */
  says: z.array(z.union([z.string().trim().min(1), z.number().positive()])).min(1),
  /** The steps that are not simply heard. All others must be. */
  marks: z.strictObject({ 'not heard': steps, 'out of order': steps, unsure: steps }).partial().default({}),
  passed: z.boolean(),
});
export type Narration = z.infer<typeof NarrationSchema>;

/** Seconds of silence after a line. */
export const SILENCE = 2;

/** A mark that is not what the narration says it must be. */
export interface Mismatch {
  /** Step id, or `passed`. */
  readonly what: string;
  readonly expected: string;
  readonly got: string;
  /** The words that got it, where there are any. */
  readonly text: string;
}

/** What the learned judge makes of lines, by their text. */
export type Meanings = ReadonlyMap<string, Utterance['judged']>;

/**
 * The marks of what is said, line by line, as a perfect recogniser would hear it. A number is a silence in seconds. Pure.
 *
 * @param meanings lines that are not in it are marked by the rules alone
 */
export function markSaid(
  checklist: Checklist,
  says: readonly (string | number)[],
  meanings: Meanings = new Map(),
): ReturnType<typeof markRehearsal> {
  let state = BEFORE;
  let now = 0;
  says.forEach((said, id) => {
    if (typeof said === 'number') {
      now += said;
      return;
    }
    const judged = meanings.get(said);
    const heard = { ...heardClearly(id, said, now), ...(judged && { judged }) };
    state = attend(checklist, state, heard).reduce(fold, state);
    now = heard.end + (typeof says[id + 1] === 'number' ? 0 : SILENCE);
  });
  return markRehearsal(checklist, fold(state, { type: 'ended', at: now }));
}

/** Plays a narration and tells what is marked otherwise than it says. Pure. */
export function playNarration(
  checklist: Checklist,
  { says, marks, passed }: Narration,
  meanings?: Meanings,
): Mismatch[] {
  const marked = markSaid(checklist, says, meanings);
  const expected = new Map<string, Outcome>();
  for (const outcome of ['not heard', 'out of order', 'unsure'] as const)
    for (const step of marks[outcome] ?? []) expected.set(step, outcome);
  const known = new Set(checklist.steps.map(({ id }) => id));
  return [
    ...[...expected.keys()]
      .filter((id) => !known.has(id))
      .map((id) => ({ what: id, expected: 'a step of the skill', got: 'no such step', text: '' })),
    ...marked.steps
      .filter(({ outcome }) => outcome !== 'needs eyes')
      .map(({ id, outcome, evidence, note }) => ({
        what: id,
        expected: expected.get(id) ?? 'heard',
        got: outcome,
        text: [evidence?.text, note].filter(Boolean).join(' – '),
      }))
      .filter((mark) => mark.expected !== mark.got),
    ...(marked.result.passed === passed
      ? []
      : [{ what: 'passed', expected: String(passed), got: String(marked.result.passed), text: '' }]),
  ];
}
