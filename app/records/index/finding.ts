import type { RehearsalSummary } from '../summary.ts';

/** Which rehearsals are looked for. */
export interface Wanted {
  /** Id of a skill, rehearsed alone or in a mock test; empty for all. */
  readonly skill: string;
  /** Ids of trainees; null for everybody, and nobody in particular. */
  readonly trainees: ReadonlySet<string | null> | null;
  /** When they began: at this moment or later, and before that one; in UTC as ISO 8601 has it. Null for any time. */
  readonly from: string | null;
  readonly to: string | null;
}

/** Whether a rehearsal is one of those looked for. */
export function isWanted(
  { skill, skills, trainee = null, startedAt }: RehearsalSummary,
  wanted: Wanted,
): boolean {
  const at = Date.parse(startedAt);
  return (
    (wanted.skill === '' || skill === wanted.skill || skills.some((each) => each.skill === wanted.skill)) &&
    (wanted.trainees === null || wanted.trainees.has(trainee)) &&
    (wanted.from === null || at >= Date.parse(wanted.from)) &&
    (wanted.to === null || at < Date.parse(wanted.to))
  );
}

/** How many rehearsals there are of each trainee, by id. */
export function countsIn(summaries: readonly RehearsalSummary[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const { trainee = null } of summaries)
    if (trainee !== null) counts[trainee] = (counts[trainee] ?? 0) + 1;
  return counts;
}

/** Runs of each skill that the screens look back on: its chart shows so many, and what to draw or to practise rests on fewer. */
const RUNS = 12;
/** Rehearsals that were cut off and are offered again, the latest ones. */
const CUT_OFF = 20;

/**
 * Of many rehearsals, newest first, those that the screens of a trainee rest on: the one that ended last, the last {@link RUNS} of each
 * skill, and the last {@link CUT_OFF} that were cut off.
 */
export function latestOf(summaries: readonly RehearsalSummary[]): RehearsalSummary[] {
  const runs = new Map<string, number>();
  let cutOff = 0;
  let ended = 0;
  return summaries.filter(({ state, skills }) => {
    const isLastEnded = state === 'ended' && ended++ === 0;
    const isCutOff = state === 'interrupted' && cutOff++ < CUT_OFF;
    const wanting = skills.filter(({ skill, of }) => of > 0 && (runs.get(skill) ?? 0) < RUNS);
    for (const { skill } of wanting) runs.set(skill, (runs.get(skill) ?? 0) + 1);
    return isLastEnded || isCutOff || wanting.length > 0;
  });
}
