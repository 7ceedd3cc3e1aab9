import { describe, expect, it } from 'vitest';
import type { SendingStanding } from '../../app/host/api.ts';
import { troubleOf } from './SchoolArchive.tsx';

const STANDING: SendingStanding = {
  address: 'https://archive.school.example',
  school: 'School of the Hill',
  station: 'Sink 4',
  enrolledAt: '2026-01-31T09:30:00.000Z',
  isOn: true,
  revoked: null,
  waiting: 3,
  staying: 0,
  sent: 0,
  lastSentAt: null,
  lastContactAt: null,
  refused: [],
  trouble: null,
  nextAt: null,
};

describe('how sending goes', () => {
  it.each([
    [{}, /^Sending is turned on\.$/],
    [{ isOn: false, trouble: 'Gone.' }, /turned off/],
    [{ revoked: 'Nobody has this token.' }, /key any more: Nobody has this token\. .*new code/],
    [{ trouble: 'It cannot be reached.' }, /It cannot be reached\. Nothing is lost\.$/],
    [{ trouble: 'It cannot be reached.', nextAt: '2026-01-31T09:40:00.000Z' }, /the next try is at .*\.$/],
  ])('of %j is said', (more, said) => {
    expect(troubleOf({ ...STANDING, ...more })).toMatch(said);
  });
});
