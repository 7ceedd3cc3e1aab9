import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { RehearsalSummary } from '../summary.ts';
import { countsIn, isWanted, latestOf, type Wanted } from './finding.ts';

const rehearsal = (startedAt: string, skill: string, ...inTest: string[]): RehearsalSummary => ({
  id: startedAt,
  skill,
  title: '',
  version: 1,
  startedAt,
  seconds: 60,
  state: 'ended',
  passed: null,
  heard: 0,
  of: 0,
  criticalMissed: [],
  note: '',
  skills: inTest.map((each) => ({ skill: each, heard: 1, of: 1, criticalMissed: [] })),
});
const ALL: Wanted = { skill: '', trainees: null, from: null, to: null };

describe('rehearsals are found', () => {
  const rehearsals = [
    { ...rehearsal('2026-03-12T12:00:00Z', 'pulse', 'pulse', 'wash'), trainee: 'kim' },
    { ...rehearsal('2026-03-11T12:00:00Z', 'bedpan'), trainee: 'lee' },
    rehearsal('2026-03-10T12:00:00Z', 'wash', 'wash'),
  ];
  it.each<[string, Partial<Wanted>, readonly number[]]>([
    ['all', {}, [0, 1, 2]],
    ['by skill, also within a mock test', { skill: 'wash' }, [0, 2]],
    ['by skill, also of a part', { skill: 'bedpan' }, [1]],
    ['by trainee', { trainees: new Set(['kim', 'lee']) }, [0, 1]],
    ['by trainee, with those of nobody', { trainees: new Set(['kim', null]) }, [0, 2]],
    ['from a moment on', { from: '2026-03-11T12:00:00Z' }, [0, 1]],
    ['before a moment', { to: '2026-03-11T12:00:00Z' }, [2]],
    ['by all of it', { skill: 'wash', trainees: new Set(['kim']), from: '2026-03-12T00:00:00Z' }, [0]],
  ])('%s', (_, wanted, found) => {
    expect(rehearsals.flatMap((each, i) => (isWanted(each, { ...ALL, ...wanted }) ? [i] : []))).toEqual(
      found,
    );
  });

  it('and counted by trainee', () => {
    expect(countsIn([...rehearsals, ...rehearsals])).toEqual({ kim: 2, lee: 2 });
  });
});

it('of many, the latest hold what screens rest on: the last runs of each skill, the last ended, the last cut off; never many more', () => {
  const one = fc.record({
    skills: fc.uniqueArray(fc.constantFrom('wash', 'pulse', 'bedpan'), { maxLength: 2 }),
    state: fc.constantFrom('ended', 'interrupted'),
  });
  fc.assert(
    fc.property(fc.array(one, { maxLength: 120 }), (made) => {
      const all = made.map(({ skills, state }, n) => ({
        ...rehearsal(String(n), 'wash', ...skills),
        state: state as 'ended' | 'interrupted',
      }));
      const latest = latestOf(all);
      const lastRuns = (of: readonly RehearsalSummary[], skill: string): string[] =>
        of.filter(({ skills }) => skills.some((each) => each.skill === skill)).map(({ id }) => id).slice(0, 12); // prettier-ignore
      for (const skill of ['wash', 'pulse', 'bedpan'])
        expect(lastRuns(latest, skill)).toEqual(lastRuns(all, skill));
      for (const [state, most] of [['ended', 1], ['interrupted', 20]] as const) {
        const of = (from: readonly RehearsalSummary[]) => from.filter((each) => each.state === state).slice(0, most);
        expect(of(latest)).toEqual(of(all));
      } // prettier-ignore
      expect(latest.length).toBeLessThanOrEqual(3 * 12 + 1 + 20);
    }),
  );
});
