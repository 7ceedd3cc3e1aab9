import { renderToStaticMarkup } from 'react-dom/server';
import { describe, expect, it } from 'vitest';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { ClassReadings } from './ClassReadings.tsx';
import { PersonsReadings } from './PersonsReadings.tsx';

const reading = (recorded: number, truth: number, to = 60): ReadingTaken => ({
  name: 'Respirations',
  unit: 'breaths a minute',
  recorded,
  truth,
  stretch: { from: 0, to },
  takenAt: '2026-11-01T08:00:00.000Z',
});
const text = (element: React.JSX.Element): string =>
  renderToStaticMarkup(element)
    .replace(/<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ');

describe("a person's readings", () => {
  it('are told in words, drawn with their limits, and listed', () => {
    const own = [reading(18, 16), reading(17, 16, 45), reading(20, 18)];
    const said = text(<PersonsReadings readings={own} />);
    // Differences 2, 1, 2: on average 1.7; standard deviation 0.577, limits 1.67 ± 1.96 × 0.577.
    expect(said).toContain('3 readings, on average 1.7 too high');
    expect(said).toContain('0.5 to 2.8 breaths a minute of the truth');
    expect(said).toContain('1 of 3 counts were stopped early, by 15 s on average');
    expect(said).toMatch(/upper limit 2\.8.*average 1\.7.*lower limit 0\.5/);
    expect(renderToStaticMarkup(<PersonsReadings readings={own} />).match(/differences-point/g)).toHaveLength(
      3,
    );
  });

  it('that are fewer than three are not drawn', () => {
    expect(text(<PersonsReadings readings={[reading(18, 16)]} />)).toContain('three times are needed');
    expect(text(<PersonsReadings readings={[]} />)).toContain('No reading with a known truth yet');
  });
});

describe('the readings of a class', () => {
  it('stand by name, each with bias, limits, rounding and early stops', () => {
    const people = [
      { name: 'Lee', readings: [reading(16, 16)] },
      { name: 'Ada', readings: [reading(18, 16), reading(17, 16, 45), reading(20, 18)] },
    ];
    const said = text(<ClassReadings people={people} />);
    expect(said).toMatch(
      /Ada Respirations \(breaths a minute\) 3 1\.7 0\.5 to 2\.8 33 % 1 of 3.*Lee .* 1 – –/,
    );
  });
});
