import { describe, expect, it } from 'vitest';
import { openLibrary } from '../../app/library/library.ts';
import type { RehearsalSummary } from '../../app/host/api.ts';
import { worthPractising } from '../../app/progress/nextPractice.ts';
import { SKILL_GROUPS } from '../../app/skills/skill.ts';
import { findSkills, groupsOf } from './finding.ts';
import { firstSkill, firstSteps, shortTry } from './firstVisit.ts';
import { lastRuns, triesOf } from './lastRun.ts';

const library = await openLibrary();
const skills = [...library.skills.values()];
const past = (skill: string, heard: number, of = 10, criticalMissed: string[] = []) => ({
  skill,
  heard,
  of,
  criticalMissed,
});
const NOW = '2026-03-09T12:00:00Z';
const daysAgo = (days: number): string => new Date(Date.parse(NOW) - days * 86_400_000).toISOString();
const rehearsal = (...runs: ReturnType<typeof past>[]): RehearsalSummary => ({
  id: '2026-03-09-0930-x',
  skill: runs[0]?.skill ?? 'part',
  title: '',
  version: 1,
  startedAt: '2026-03-09T09:30:00Z',
  seconds: 60,
  state: 'ended',
  passed: null,
  heard: 0,
  of: 0,
  criticalMissed: [],
  note: '',
  skills: runs,
});

describe('how a skill went last', () => {
  const lastOf = lastRuns([
    rehearsal(),
    rehearsal(past('a', 9, 10, ['x']), past('b', 10)),
    rehearsal(past('a', 10), past('c', 7, 10)),
  ]);

  it('is its newest whole run, and a missed critical step weighs more than all that was heard', () => {
    expect(lastOf('a')).toEqual({ mark: 'not heard', words: '9 of 10 steps heard, 1 critical step missed' });
    expect(lastOf('b')).toEqual({ mark: 'heard', words: '10 of 10 steps heard' });
    expect(lastOf('c')).toEqual({ mark: 'short', words: '7 of 10 steps heard' });
    expect(lastOf('d')).toEqual({ mark: 'open', words: 'Not rehearsed yet' });
  });
});

describe('what is most worth practising', () => {
  const five = skills.slice(0, 5);
  const [a, b, c, d, e] = five.map(({ id }) => id) as [string, string, string, string, string];
  const ids = (...runs: ReturnType<typeof past>[]): string[] =>
    worthPractising(
      five,
      triesOf(
        runs.map((run, i) => ({ ...rehearsal(run), startedAt: daysAgo(i) })),
        five,
      ),
      NOW,
    ).map(({ skill }) => skill);

  it('is what went badly, then what was never tried, then what went well but not fully; never what is mastered', () => {
    expect(ids(past(a, 9), past(b, 10), past(c, 5), past(e, 2))).toEqual([e, c, d, a]);
  });

  it('is what missed a critical step in its latest run, though all before went well, and names the step in its words', () => {
    const { id, text } = five[2]!.steps[0]!; // Every skill has steps.
    expect(ids(past(c, 9, 10, [id]), past(c, 10), past(c, 10), past(c, 10))[0]).toBe(c);
    expect(triesOf([rehearsal(past(c, 9, 10, [id]))], five)[0]?.criticalMissed).toEqual([text]);
  });

  it('is the skills in their order before anything was tried', () => {
    expect(ids()).toEqual([a, b, c, d, e]);
  });
});

describe('finding a skill', () => {
  const titles = (typed: string): string[] => findSkills(skills, typed).map(({ title }) => title);

  it('goes by title, group and card, and past a slip of the finger', () => {
    expect(titles('')).toHaveLength(skills.length);
    expect(titles('blood pressure')[0]).toBe('Measuring blood pressure by hand');
    expect(titles('blod presure')[0]).toBe('Measuring blood pressure by hand');
    expect(titles('toileting')).toContain('Helping with a bedpan');
    expect(titles('spoon')).toContain('Helping with a meal and drinks');
    expect(titles('xylophone')).toEqual([]);
  });

  it('is helped by groups: each skill that comes with the program stands in one', () => {
    const groups = groupsOf(skills);
    expect(groups.flatMap((group) => group.skills)).toHaveLength(skills.length);
    expect(groups.map(({ group }) => group)).toEqual(SKILL_GROUPS.filter((group) => group !== 'other'));
  });
});

describe('a first visit', () => {
  it('leads through model, microphone and a try until something was rehearsed', () => {
    const steps = (canHear: boolean, microphonesChecked: number, rehearsals: number) =>
      firstSteps({ canHear, microphonesChecked, rehearsals })?.map(({ done }) => done) ?? null;
    expect(steps(false, 0, 0)).toEqual([false, false, false]);
    expect(steps(true, 1, 0)).toEqual([true, true, false]);
    expect(steps(true, 0, 1)).toBeNull();
    // A model that was lost is got again.
    expect(steps(false, 1, 1)).toEqual([false, true, true]);
  });

  it('tries the first steps, that words can show, of what every test begins with', () => {
    const first = firstSkill({ skills, forms: [...library.forms.values()] });
    expect(first?.id).toBe('hand-washing');
    expect(firstSkill({ skills: [], forms: [] })).toBeNull();
    expect(shortTry(library.skills.get('hand-washing')!, { tap: 'lever' }).map(({ id }) => id)).toEqual([
      'greet',
      'ask-name',
      'check-band',
      'sleeves',
    ]);
  });
});
