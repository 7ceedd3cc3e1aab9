import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import { makeChecklist } from '../../app/skills/checklist.ts';
import { loadNarrations } from '../speech/narration.ts';
import { markWritten, scored, type Written } from './written.ts';

/**
 * Every skill against strangers who never saw its examples, as exact transcripts, by the rules and the learned judge: all narrations that
 * were held out. `npm run bench:written -- --split held-out` prints the figures.
 */
const [library, narrations] = await Promise.all([openLibrary(), loadNarrations()]);
const strangers = narrations.filter(({ split }) => split === 'held-out');

describe('strangers, as written', () => {
  const all: Written[] = [];

  // Floors below what was measured, so that a step back shows: the least recall is .909, the least precision .971 (3 of 104 credits).
  it.each([...library.skills.values()].map((skill) => [skill.id, skill] as const))(
    '%s credits most of what they say and hardly anything else',
    async (id, skill) => {
      const own = strangers.filter((narration) => narration.skill === id);
      expect(own.length).toBeGreaterThanOrEqual(3);
      const marked = [];
      for (const narration of own) {
        const checklist = makeChecklist(skill, library.lexicon, library.rules, narration.variants);
        marked.push(await markWritten(narration, checklist));
      }
      all.push(...marked);
      const { recall, precision, critical } = scored(marked);
      expect(critical).toEqual([]);
      expect(precision).toBeGreaterThanOrEqual(0.97);
      expect(recall).toBeGreaterThanOrEqual(0.87);
    },
    120_000,
  );

  it('all skills together credit nearly all of it', () => {
    const { precision, recall } = scored(all);
    expect(all).toHaveLength(strangers.length);
    expect(precision).toBeGreaterThanOrEqual(0.99);
    expect(recall).toBeGreaterThanOrEqual(0.95);
  });
});
