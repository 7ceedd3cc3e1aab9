import { fileURLToPath } from 'node:url';
import { expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { loadNarrations } from '../speech/narration.ts';
import { markWritten, scored } from './written.ts';

/** The example of "Adding a skill" in DEVELOPERS.md: what a skill scores that a school wrote in a quarter of an hour. */
const folder = (name: string): string => fileURLToPath(new URL(name, import.meta.url));

it('a new skill of fifteen steps credits most of what strangers say and hardly anything else', async () => {
  const { skills, lexicon, rules, faults } = await openLibrary(folder('newSkill'));
  expect(faults).toEqual([]);
  const narrations = await loadNarrations(folder('newSkill/said'));
  expect(narrations).toHaveLength(3);
  const checklist = makeChecklist(skills.get('artificial-leg')!, lexicon, rules);
  expect(checklist.steps).toHaveLength(15);
  const marked = [];
  for (const narration of narrations) marked.push(await markWritten(narration, checklist));
  const { recall, wrong, critical } = scored(marked);
  expect(critical).toEqual([]);
  expect(wrong.length).toBeLessThanOrEqual(2);
  // A little below what was measured when it was written.
  expect(recall).toBeGreaterThanOrEqual(0.85);
}, 120_000);
