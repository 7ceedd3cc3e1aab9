import { describe, expect, it } from 'vitest';
import {
  comfortableFrom,
  describeDistance,
  describeExpectation,
  expectedAt,
  stepsOf,
} from './expectation.ts';
import { RECALL_TABLES, recallTableOf, type RecallTable } from './recallTable.ts';

const table: RecallTable = {
  listening: 'test/ear',
  quiet: 0.95,
  besideTap: [
    { snr: 0, recall: 0.3 },
    { snr: 5, recall: 0.7 },
    { snr: 10, recall: 0.9 },
  ],
  source: { command: 'none', voice: 'none', when: 'never' },
};
const short: RecallTable = { ...table, besideTap: [{ snr: 10, recall: 0.81 }], quiet: 0.9 };

describe('every recall table', () => {
  it.each(RECALL_TABLES)('has rising levels and shares from 0 to 1: $listening', ({ quiet, besideTap }) => {
    const levels = besideTap.map(({ snr }) => snr);
    expect(levels).toEqual([...new Set(levels)].sort((a, b) => a - b));
    for (const share of [quiet, ...besideTap.map(({ recall }) => recall)]) {
      expect(share).toBeGreaterThanOrEqual(0);
      expect(share).toBeLessThanOrEqual(1);
    }
  });

  it('is of another listener', () => {
    expect(new Set(RECALL_TABLES.map(({ listening }) => listening)).size).toBe(RECALL_TABLES.length);
    expect(recallTableOf('an ear that nobody measured')).toBeNull();
  });
});

describe('what to expect', () => {
  it('lies on the line between two rows, and is not known below the first', () => {
    expect(expectedAt(table, 5)).toEqual({ least: 0.7, most: 0.7 });
    expect(expectedAt(table, 7.5)?.least).toBeCloseTo(0.8, 10);
    expect(expectedAt(table, 0)).toEqual({ least: 0.3, most: 0.3 });
    expect(expectedAt(table, -0.1)).toBeNull();
  });

  it('lies between the last row and quiet above it', () => {
    expect(expectedAt(table, 14)).toEqual({ least: 0.9, most: 0.95 });
    expect(expectedAt(short, 10.5)).toEqual({ least: 0.81, most: 0.9 });
  });

  it('is told in tenths, with what a nearer microphone gains', () => {
    expect(describeExpectation(table, 5)).toBe(
      'About 7 of 10 steps will be heard. With the microphone half as far from your mouth, or clipped on: about 9 of 10 or more.',
    );
    expect(describeExpectation(short, 9.7)).toMatch(/^About 8 of 10/);
    expect(describeExpectation(short, 20)).toBe('About 8 to 9 of 10 steps will be heard.');
    expect(describeExpectation(short, 6)).toMatch(
      /as loud as this has not been measured.*: about 8 to 9 of 10/,
    );
    expect(describeExpectation(short, 2)).toMatch(/has not been measured\.$/);
    expect(describeExpectation(null, 12)).toMatch(/speech model .* has not been measured/);
    expect(stepsOf({ least: 0.97, most: 1 })).toBe('more than 9 of 10');
  });
});

describe('a tap that is no trouble', () => {
  it('leaves four fifths to be heard', () => {
    expect(comfortableFrom(table)).toBeCloseTo(7.5, 10);
    expect(comfortableFrom(short)).toBe(10);
    expect(comfortableFrom({ ...short, besideTap: [{ snr: 10, recall: 0.6 }] })).toBeNull();
    expect(
      comfortableFrom({
        ...table,
        besideTap: [
          { snr: 0, recall: 0.85 },
          { snr: 5, recall: 0.7 },
          { snr: 10, recall: 0.9 },
        ],
      }),
    ).toBeCloseTo(7.5, 10);
  });
});

describe('a distance in words', () => {
  it('names both', () => {
    expect(describeDistance(23.4)).toBe('far louder than the tap (23 dB)');
    expect(describeDistance(9.7)).toBe('clearly louder than the tap (10 dB)');
    expect(describeDistance(12)).toMatch(/^clearly/);
    expect(describeDistance(7)).toMatch(/^a little/);
    expect(describeDistance(0.2)).toBe('hardly louder than the tap (0 dB)');
    expect(describeDistance(-3)).toBe('softer than the tap (−3 dB)');
  });
});
