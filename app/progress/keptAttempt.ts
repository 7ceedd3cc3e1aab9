import { z } from 'zod';
import { AttemptSchema, type Attempt } from './attempt.ts';

/** An attempt without what every attempt at that version of the skill shares: its title, and the words of its steps. */
export const KeptAttemptSchema = AttemptSchema.omit({
  id: true,
  trainee: true,
  startedAt: true,
  title: true,
  steps: true,
}).extend({
  version: z.number().int().positive(),
  /** Whether each step was credited, by its id, in the order of the checklist. */
  steps: z.record(z.string(), z.boolean().nullable()),
});
export type KeptAttempt = Readonly<z.infer<typeof KeptAttemptSchema>>;

/** What all attempts at one version of a skill share. */
export const SkillWordsSchema = z.object({
  version: z.number().int().positive(),
  title: z.string(),
  steps: z.array(z.object({ id: z.string(), text: z.string(), critical: z.boolean() })),
});
export type SkillWords = Readonly<z.infer<typeof SkillWordsSchema>>;

/** The attempts at a skill, as they are sent: the words once, not with every attempt. */
export const AttemptsAtSchema = z.object({
  /** The versions that the attempts were marked under. */
  versions: z.array(SkillWordsSchema),
  attempts: z.array(
    KeptAttemptSchema.extend(AttemptSchema.pick({ id: true, trainee: true, startedAt: true }).shape),
  ),
});
export type AttemptsAt = Readonly<z.infer<typeof AttemptsAtSchema>>;

/** What is kept of an attempt at a version of its skill. */
export function keptAttempt(
  { skill, steps, passed, clocks, readings, narrated, longestSilence }: Attempt,
  version: number,
): KeptAttempt {
  const credited = Object.fromEntries(steps.map((each) => [each.step, each.credited]));
  return { skill, version, steps: credited, passed, clocks, readings, narrated, longestSilence };
}

/** The attempts with their words. A step whose words are not sent goes by its id. */
export function attemptsIn({ versions, attempts }: AttemptsAt): Attempt[] {
  const words = new Map(
    versions.map(({ version, title, steps }) => [
      version,
      { title, steps: new Map(steps.map((step) => [step.id, step])) },
    ]),
  );
  return attempts.map(({ version, steps, ...attempt }) => {
    const known = words.get(version);
    return {
      ...attempt,
      title: known?.title ?? attempt.skill,
      steps: Object.entries(steps).map(([step, credited]) => {
        const { text = step, critical = false } = known?.steps.get(step) ?? {};
        return { step, text, critical, credited };
      }),
    };
  });
}
