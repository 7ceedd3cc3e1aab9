import { agreement, earlyStops, lastDigits } from '../../app/bench/statistics.ts';
import { percent } from '../words.ts';
import type { Taken } from './Outcome.tsx';
import { differenceSays, figure, UNIT_SAYS } from './words.ts';

/** Below this likelihood of being chance, rounding is told. */
const UNLIKELY = 0.05;

/** What the readings taken so far have in common: whether they come out too high, are rounded, are stopped early. */
export function SoFar({ taken }: { readonly taken: readonly Taken[] }) {
  const names = [...new Set(taken.map(({ name }) => name))];
  return (
    <section className="bench-part">
      <h2>Your readings so far</h2>
      {names.length === 0 && <p>None yet.</p>}
      <ul className="bench-remarks">
        {names.map((name) => (
          <li key={name} className="bench-note">
            <strong>{name}.</strong> {sentences(taken.filter((each) => each.name === name)).join(' ')}
          </li>
        ))}
      </ul>
    </section>
  );
}

/** @param own readings of one name, at least one */
function sentences(own: readonly Taken[]): string[] {
  const unit = own[0]?.comparison.unit ?? 'mmHg';
  return [
    agreementSays(own, UNIT_SAYS[unit]),
    roundingSays(own, unit === 'mmHg' ? 2 : 1),
    earlySays(own),
  ].filter((text) => text !== null);
}

function agreementSays(own: readonly Taken[], unit: string): string {
  const found = agreement(own.map(({ comparison }) => comparison.difference));
  if (!found) return `Read ${own.length === 1 ? 'once' : 'twice'} so far; three times are needed to compare.`;
  const { n, bias, lower, upper } = found;
  const bounds = `${figure(round(lower.value))} to ${figure(round(upper.value))} ${unit}`;
  return (
    `${n} readings, on average ${differenceSays(round(bias.value))} (between ${figure(round(bias.from))} and ${figure(round(bias.to))} with 95 % confidence). ` +
    `Most of them lie within ${bounds} of the truth (limits of agreement, Bland and Altman)` +
    (n < 20 ? '; with so few readings that is only a rough idea.' : '.')
  );
}

const round = (value: number): number => Math.round(value * 10) / 10;

function roundingSays(own: readonly Taken[], step: 1 | 2): string | null {
  const { n, zeros, expected, chance } = lastDigits(
    own.map(({ comparison }) => Math.round(comparison.recorded)),
    step,
  );
  if (chance === null || chance >= UNLIKELY || zeros <= expected) return null;
  return `${percent(zeros)} of ${n} numbers end in 0, where ${percent(expected)} would be expected: you may be rounding to tens (chi-square test).`;
}

function earlySays(own: readonly Taken[]): string | null {
  const counts = own.flatMap(({ stretch }) => stretch ?? []);
  const { n, early, missing } = earlyStops(counts);
  return early === 0
    ? null
    : `${early} of ${n} counts were stopped early, by ${figure(round(missing))} s on average.`;
}
