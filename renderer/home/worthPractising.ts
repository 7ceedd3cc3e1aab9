import { weaknessOf, type PastResult } from '../../app/skills/draw.ts';
import type { Skill } from '../../app/skills/skill.ts';

/** From this weakness on a skill goes before those never rehearsed: a missed critical step in the latest run reaches it. */
const WEAK = 0.25;

/**
 * The skills most worth practising, at most `count`: first those that went badly, the weakest first; then those never
 * rehearsed, in the order given; then what went well but not fully, the weakest first. What is mastered is left out. How weak
 * a skill is, `weaknessOf` says.
 *
 * @param past newest first
 */
export function worthPractising(
  skills: readonly Skill[],
  past: readonly PastResult[],
  count: number,
): Skill[] {
  const weakness = weaknessOf(skills, past);
  const tried = new Set(past.filter(({ of }) => of > 0).map(({ skill }) => skill));
  const weak = ({ id }: Skill): number => weakness.get(id) ?? 1;
  const weakestFirst = skills.filter(({ id }) => tried.has(id)).sort((a, b) => weak(b) - weak(a));
  return [
    ...weakestFirst.filter((skill) => weak(skill) >= WEAK),
    ...skills.filter(({ id }) => !tried.has(id)),
    ...weakestFirst.filter((skill) => weak(skill) < WEAK && weak(skill) > 0),
  ].slice(0, count);
}
