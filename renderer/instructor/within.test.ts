import { expect, it } from 'vitest';
import type { RehearsalSummary } from '../../app/host/api.ts';
import { within } from './within.ts';

const rehearsal = (day: string, skill: string, ...inTest: string[]): RehearsalSummary => ({
  id: day,
  skill,
  title: '',
  version: 1,
  startedAt: `2026-03-${day}T12:00:00Z`,
  seconds: 60,
  state: 'ended',
  passed: null,
  heard: 0,
  of: 0,
  criticalMissed: [],
  note: '',
  skills: inTest.map((each) => ({ skill: each, heard: 1, of: 1, criticalMissed: [] })),
});

it('rehearsals are found by skill, also within a mock test or of a part, and by day', () => {
  const rehearsals = [
    rehearsal('12', 'pulse', 'pulse', 'wash'),
    rehearsal('11', 'bedpan'),
    rehearsal('10', 'wash', 'wash'),
  ];
  const days = (skill: string, from: string, to: string): string[] =>
    rehearsals.filter(within({ skill, from, to })).map(({ id }) => id);
  expect(days('', '', '')).toEqual(['12', '11', '10']);
  expect(days('wash', '', '')).toEqual(['12', '10']);
  expect(days('bedpan', '', '')).toEqual(['11']);
  expect(days('wash', '2026-03-10', '2026-03-11')).toEqual(['10']);
  expect(days('', '2026-03-12', '')).toEqual(['12']);
});
