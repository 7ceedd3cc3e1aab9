import { useState } from 'react';
import {
  CONTAINER,
  filledFrom,
  heightOf,
  seenFrom,
  toFluidOunces,
  toNearestMark,
} from '../../app/bench/container.ts';
import { compare } from '../../app/bench/readings/reading.ts';
import type { BenchProps } from './BenchPage.tsx';
import { Graduate } from './drawings/Graduate.tsx';
import { Entry } from './Entry.tsx';
import { Outcome, type Taken } from './Outcome.tsx';
import { figure } from './words.ts';

/** From how far above one looks to begin with, in degrees, and how far one can move at a time. */
const STANDING = 24;
const BEND = 4;

/** Reading a measuring container. */
export function ContainerBench({ seed, rules, onTaken, onNext }: BenchProps) {
  const [above, look] = useState(STANDING);
  const [taken, setTaken] = useState<Taken | null>(null);
  const volume = filledFrom(seed);
  if (taken) {
    const { truth } = taken.comparison;
    const seen = seenFromAngle(volume, above);
    return (
      <Outcome
        taken={[taken]}
        remarks={[]}
        notes={[
          `${figure(truth)} mL are ${toFluidOunces(truth).toFixed(1)} fluid ounces.`,
          ...(above === 0
            ? []
            : [
                `You read it from above, where the middle of the surface lies against ${Math.round(seen)} mL. Read at eye level.`,
              ]),
        ]}
        onNext={onNext}
      >
        <Graduate volume={volume} above={0} />
      </Outcome>
    );
  }
  const record = (recorded: number): void => {
    const reading = { unit: 'millilitres', truth: toNearestMark(volume), recorded, said: null } as const;
    const now = { name: 'Urine output', comparison: compare(reading, rules), stretch: null };
    onTaken([now]);
    setTaken(now);
  };
  return (
    <section className="bench-part" aria-label="The container">
      <Graduate volume={volume} above={above} />
      <div className="actions">
        <button
          type="button"
          className="button"
          disabled={above === 0}
          onClick={() => look(Math.max(0, above - BEND))}
        >
          Bend down a little
        </button>
        <button type="button" className="button" disabled={above === 0} onClick={() => look(0)}>
          Go to eye level
        </button>
        <button
          type="button"
          className="button"
          disabled={above >= STANDING}
          onClick={() => look(Math.min(STANDING, above + BEND))}
        >
          Rise a little
        </button>
      </div>
      <p role="status">{above === 0 ? 'You look at eye level.' : 'You look down from above.'}</p>
      <Entry
        fields={[{ label: 'Millilitres', from: 5, to: CONTAINER.capacity, mark: 5 }]}
        onRecord={([recorded]) => record(recorded ?? NaN)}
      />
    </section>
  );
}

/** What lies in the line of sight from far off, at an angle from above: see `seenFrom`. */
function seenFromAngle(volume: number, above: number): number {
  const distance = 1e6;
  const height = heightOf(volume) + Math.tan((above * Math.PI) / 180) * (distance + CONTAINER.radius);
  return seenFrom({ height, distance }, volume);
}
