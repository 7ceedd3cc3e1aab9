import { describe, expect, it } from 'vitest';
import { checkOf, describeCheck, remember, type CheckedMicrophone } from './checkedMicrophones.ts';
import { RECALL_TABLES } from './recallTable.ts';

const check = (label: string, more: Partial<CheckedMicrophone> = {}): CheckedMicrophone => ({
  label,
  device: null,
  at: '2026-11-30T03:30:00.000Z',
  measured: { speech: -30, noise: -42, snr: 12 },
  listening: RECALL_TABLES[0]!.listening,
  cleaned: false,
  ...more,
});

describe('microphones', () => {
  it('are kept once each, the latest check first', () => {
    const first = [check('Desk'), check('Headset')];
    const again = check('Headset', { measured: null });
    expect(remember(first, again)).toEqual([again, check('Desk')]);
    expect(remember(first, check('Default - Desk')).map(({ label }) => label)).toEqual([
      'Default - Desk',
      'Headset',
    ]);
    const many = Array.from({ length: 30 }, (_, i) => check(`${i}`));
    expect(many.reduce<CheckedMicrophone[]>(remember, [])).toHaveLength(20);
  });

  it('are known by name, and before names may be read by what was asked for', () => {
    const all = [check('Default - Desk'), check('Headset', { device: 'abc' })];
    expect(checkOf(all, 'Desk', 'xyz')?.label).toBe('Default - Desk');
    expect(checkOf(all, 'New one', null)).toBeNull();
    expect(checkOf(all, null, 'abc')?.label).toBe('Headset');
    expect(checkOf(all, null, null)?.label).toBe('Default - Desk');
    expect(checkOf(all, null, 'never checked')).toBeNull();
  });

  it('are described by what to expect, where that was measured', () => {
    expect(describeCheck(check('Desk'))).toMatch(
      /^Your voice was clearly louder than the tap \(12 dB\)\. About \d.* of 10 /,
    );
    expect(describeCheck(check('Desk', { cleaned: true }))).toMatch(/clean-up .* has not been measured/);
    expect(describeCheck(check('Desk', { listening: 'another' }))).toMatch(/model .* has not been measured/);
    expect(describeCheck(check('Desk'), 'another')).toMatch(/model .* has not been measured/);
    expect(describeCheck(check('Desk', { measured: null }))).toBe('No words came through beside the tap.');
  });
});
