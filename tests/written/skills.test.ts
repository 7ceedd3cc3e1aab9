import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/records/library.ts';
import { makeChecklist } from '../../app/rehearsal/checklist.ts';
import { loadNarrations } from '../speech/narration.ts';
import { markWritten, scored } from './written.ts';

/**
 * Every skill against a stranger who never heard of its examples, as an exact transcript, by the rules and the learned judge: the
 * narrations numbered 86, held out and in words far from the steps' on purpose. `npm run bench:written` marks all.
 */
const [library, narrations] = await Promise.all([openLibrary(), loadNarrations()]);
const strangers = narrations.filter(({ id, split }) => split === 'held-out' && /-86-/.test(id));

/** Recall that each skill must reach; below what was measured, so that a step back shows. */
const LEAST = 0.8;

describe('strangers, as written', () => {
  it.each([...library.skills.values()].map((skill) => [skill.id, skill] as const))(
    '%s credits most of what they say and hardly anything else',
    async (id, skill) => {
      const own = strangers.filter((narration) => narration.skill === id);
      expect(own).toHaveLength(1);
      const marked = [];
      for (const narration of own) {
        const checklist = makeChecklist(skill, library.lexicon, library.rules, narration.variants);
        marked.push(await markWritten(narration, checklist));
      }
      const { recall, wrong, critical } = scored(marked);
      expect(critical).toEqual([]);
      expect(wrong.length).toBeLessThanOrEqual(1);
      expect(recall).toBeGreaterThanOrEqual(LEAST);
    },
    60_000,
  );
});
