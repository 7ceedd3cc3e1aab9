import type { RehearsalSummary } from '../../app/host/api.ts';

/** How a skill went at one time. */
export interface Run {
  readonly startedAt: string;
  readonly heard: number;
  readonly of: number;
  readonly criticalMissed: number;
}

/** The runs of one skill, the oldest first. */
export interface SkillRuns {
  readonly skill: string;
  readonly runs: readonly Run[];
}

/**
 * The runs of each skill that was rehearsed as a whole, alone or in a mock test; the skill rehearsed last comes first.
 *
 * @param rehearsals newest first
 * @param most of each skill, the latest are kept
 */
export function runsOf(rehearsals: readonly RehearsalSummary[], most: number): SkillRuns[] {
  const bySkill = new Map<string, Run[]>();
  for (const { startedAt, skills } of rehearsals)
    for (const { skill, heard, of, criticalMissed } of skills) {
      const runs = bySkill.get(skill) ?? [];
      bySkill.set(skill, runs);
      if (of > 0 && runs.length < most)
        runs.unshift({ startedAt, heard, of, criticalMissed: criticalMissed.length });
    }
  return [...bySkill].map(([skill, runs]) => ({ skill, runs })).filter(({ runs }) => runs.length > 0);
}
