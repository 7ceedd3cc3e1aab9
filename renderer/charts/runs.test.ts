import { expect, it } from 'vitest';
import type { RehearsalSummary } from '../../app/host/api.ts';
import { runsOf } from './runs.ts';

const rehearsal = (
  startedAt: string,
  ...skills: readonly [skill: string, heard: number, missed?: string[]][]
): RehearsalSummary => ({
  id: startedAt,
  skill: skills[0]?.[0] ?? 'bedpan',
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
  skills: skills.map(([skill, heard, criticalMissed = []]) => ({ skill, heard, of: 10, criticalMissed })),
});

const REHEARSALS = [
  rehearsal('2026-03-12T12:00:00Z', ['pulse', 7, ['count']], ['wash', 9]),
  rehearsal('2026-03-11T12:00:00Z'),
  rehearsal('2026-03-10T12:00:00Z', ['wash', 8]),
  rehearsal('2026-03-09T12:00:00Z', ['wash', 4]),
];

it('the runs of a skill stand in their order, the latest few, the skill rehearsed last first', () => {
  const runs = runsOf(REHEARSALS, 2);
  expect(runs.map(({ skill }) => skill)).toEqual(['pulse', 'wash']);
  expect(runs[0]!.runs).toEqual([{ startedAt: '2026-03-12T12:00:00Z', heard: 7, of: 10, criticalMissed: 1 }]);
  expect(runs[1]!.runs.map(({ heard }) => heard)).toEqual([8, 9]);
});
