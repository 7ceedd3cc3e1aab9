import { isRounded, readingStatistics } from '../../app/progress/readings.ts';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { percent } from '../words.ts';
import { Table } from '../progress/Table.tsx';
import { tenths } from './readingsSay.ts';

/** A person by name, with what they read. */
export interface Person {
  readonly name: string;
  readonly readings: readonly ReadingTaken[];
}

/** The readings of a class side by side, by name: nobody is ranked. */
export function ClassReadings({ people }: { readonly people: readonly Person[] }) {
  const rows = [...people]
    .sort((a, b) => a.name.localeCompare(b.name))
    .flatMap(({ name, readings }) =>
      readingStatistics(readings).map((statistics) => {
        const { agreement, digits, early } = statistics;
        return [
          name,
          `${statistics.name} (${statistics.unit})`,
          statistics.readings.length,
          agreement ? tenths(agreement.bias.value) : '–',
          agreement ? `${tenths(agreement.lower.value)} to ${tenths(agreement.upper.value)}` : '–',
          digits ? `${percent(digits.zeros)}${isRounded(statistics) ? ', rounded' : ''}` : '–',
          early.n > 0 ? `${early.early} of ${early.n}` : '–',
        ];
      }),
    );
  return (
    <>
      <div className="heat" tabIndex={0} role="region" aria-label="Readings of the class">
        <Table
          caption="The class, by name"
          columns={[
            'Who',
            'What',
            'Readings',
            'On average',
            'Limits of agreement',
            'End in 0',
            'Stopped early',
          ]}
          rows={rows}
        />
      </div>
      <p className="hint">
        On average: recorded less truth. The limits hold 95 of 100 differences to be expected (Bland and
        Altman). Fewer than three readings cannot be compared. “Rounded”: more end in 0 than chance makes
        likely.
      </p>
    </>
  );
}
