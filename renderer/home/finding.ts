import Fuse from 'fuse.js';
import { SKILL_GROUPS, type Skill, type SkillGroup } from '../../app/skills/skill.ts';

/** Skills by what they are, in the order of the groups; groups without skills are left out. */
export const groupsOf = (skills: readonly Skill[]): { group: SkillGroup; skills: Skill[] }[] =>
  SKILL_GROUPS.map((group) => ({ group, skills: skills.filter((skill) => skill.group === group) })).filter(
    (each) => each.skills.length > 0,
  );

/** The skills a trainee may mean by what was typed, wherever it stands in title, group or card; a slip of the finger is let pass. */
export function findSkills(skills: readonly Skill[], typed: string): Skill[] {
  const wanted = typed.trim();
  if (wanted === '') return [...skills];
  const fuse = new Fuse(skills, {
    keys: [
      { name: 'title', weight: 3 },
      { name: 'group', weight: 2 },
      { name: 'card', weight: 1 },
    ],
    threshold: 0.3,
    ignoreLocation: true,
    ignoreFieldNorm: true,
  });
  return fuse.search(wanted).map(({ item }) => item);
}
