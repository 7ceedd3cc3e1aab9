import { describe, expect, it } from 'vitest';
import { lintSkill } from '../../app/authoring/lint.ts';
import { parseSkill } from '../../app/authoring/skillFile.ts';
import { openLibrary } from '../../app/library/library.ts';
import { freeId, idFrom, templateOf } from './newSkill.ts';

describe('a new skill', () => {
  it('has a name made of its title', () => {
    expect(idFrom('Making a bed')).toBe('making-a-bed');
    expect([freeId('bed', ['cot']), freeId('bed', ['bed', 'bed-2'])]).toEqual(['bed', 'bed-3']);
    expect(idFrom(' 2 beds, and: Ärmel! ')).toBe('beds-and-rmel');
  });

  it('can be used as it is, and there is nothing to warn of in what is its own', async () => {
    const { lexicon, care } = await openLibrary();
    const source = templateOf('making-a-bed', 'Making: a "bed"');
    expect(parseSkill('x', source, lexicon, care)).toMatchObject({ id: 'making-a-bed', title: 'Making: a "bed"' });
    expect(lintSkill('x', source, lexicon, care).filter(({ field }) => field.startsWith('steps[3]'))).toEqual([]);
  }); // prettier-ignore
});
