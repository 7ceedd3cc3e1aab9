import { readingStatistics, type ReadingStatistics } from '../../app/progress/readings.ts';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { differenceSays } from '../bench/words.ts';
import { Chart } from '../progress/Chart.tsx';
import { dayOf } from '../progress/progressWords.ts';
import '../styles/screens/progress.css';
import '../styles/screens/readings.css';
import { Differences } from './Differences.tsx';
import { readingsSay } from './readingsSay.ts';

/** What one person's readings have in common, each kind in a picture and in words. */
export function PersonsReadings({ readings }: { readonly readings: readonly ReadingTaken[] }) {
  const all = readingStatistics(readings);
  if (all.length === 0)
    return (
      <p>
        No reading with a known truth yet. The bench has residents to measure, and an instructor can note what
        they measured.
      </p>
    );
  return all.map((statistics) => <Kind key={`${statistics.name} ${statistics.unit}`} {...statistics} />);
}

function Kind(statistics: ReadingStatistics) {
  const { name, unit, readings, agreement } = statistics;
  const says = readingsSay(statistics).join(' ');
  const title = `${name} (${unit}).`;
  if (!agreement)
    return (
      <p>
        <strong>{title}</strong> {says}
      </p>
    );
  return (
    <Chart
      title={title}
      says={`${says} Across, the size of the number; up, how much too high it was.`}
      columns={['Day', 'Recorded', 'Truth', 'Apart']}
      rows={readings.map(({ takenAt, recorded, truth }) => [
        dayOf(takenAt),
        String(recorded),
        String(truth),
        differenceSays(recorded - truth),
      ])}
    >
      <Differences readings={readings} agreement={agreement} />
    </Chart>
  );
}
