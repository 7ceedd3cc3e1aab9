import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { asText, findingOf, isWithin, wantedIn, type Wanted } from './wanted.ts';

const ALL: Wanted = { skill: '', class: '', from: '', to: '' };

describe('what is wanted', () => {
  it('is the same after a way through the address', () => {
    const day = fc
      .date({ min: new Date('2020-01-01'), max: new Date('2030-01-01'), noInvalidDate: true })
      .map((date) => date.toISOString().slice(0, 10));
    const wanted = fc.record({
      skill: fc.constantFrom('', 'hand-washing'),
      class: fc.string(),
      from: fc.oneof(fc.constant(''), day),
      to: fc.oneof(fc.constant(''), day),
    });
    fc.assert(fc.property(wanted, (each) => void expect(wantedIn(asText(each))).toEqual(each)));
    expect(asText(ALL)).toBe('');
  });

  it('asks for nothing where an address was written by hand and makes no sense', () => {
    expect(wantedIn('from=yesterday&to=2026-02-30&size=9&skill=pulse')).toEqual({ ...ALL, skill: 'pulse' });
    expect(wantedIn(undefined)).toEqual(ALL);
  });

  it('takes whole days of this machine, first and last included', () => {
    const at = (day: number, hour: number): { startedAt: string } => ({
      startedAt: new Date(2026, 2, day, hour).toISOString(),
    });
    const within = isWithin({ ...ALL, from: '2026-03-10', to: '2026-03-11' });
    expect([at(9, 23), at(10, 0), at(11, 23), at(12, 0)].map(within)).toEqual([false, true, true, false]);
    expect(isWithin(ALL)(at(1, 1))).toBe(true);
  });

  it('is asked of the host by moments', () => {
    const { from, to, ...others } = findingOf({
      ...ALL,
      skill: 'pulse',
      from: '2026-03-10',
      to: '2026-03-10',
    });
    expect(others).toEqual({ skill: 'pulse', class: '' });
    // Also where the clocks change that day.
    expect(new Date(from ?? '').getHours()).toBe(0);
    expect(new Date(to ?? '').getDate()).toBe(11);
  });
});
