import { useState } from 'react';
import { compare } from '../../app/bench/readings/reading.ts';
import {
  AT_ZERO,
  BEAMS,
  imbalance,
  isBalanced,
  loadFrom,
  pointerAt,
  toKilograms,
  toPounds,
  type Poises,
  type WeightUnit,
} from '../../app/bench/scale.ts';
import type { BenchProps } from './BenchPage.tsx';
import { BalanceBeam } from './drawings/BalanceBeam.tsx';
import { Entry } from './Entry.tsx';
import { Outcome, type Taken } from './Outcome.tsx';
import { useTime } from './useTime.ts';
import { figure } from './words.ts';

/** How far one turn of the nut moves the empty scale, in marks of the beam, and how far a big step moves the small poise. */
const TURN = 1;
const BIG = 10;

/** Long enough ago for the beam to have come to rest, in seconds. */
const SETTLED = 10;

interface Told {
  readonly taken: Taken;
  readonly zeroed: boolean;
  readonly settled: boolean;
}

/** Weighing on a balance-beam scale. */
export function ScaleBench({ seed, rules, channels, onTaken, onNext }: BenchProps) {
  const [unit, setUnit] = useState<WeightUnit>('pounds');
  const beam = BEAMS[unit];
  const load = loadFrom(seed, beam);
  const [turned, setTurned] = useState(0);
  const [isOn, stepOn] = useState(false);
  const [poises, setPoises] = useState<Poises>(AT_ZERO);
  const [moved, setMoved] = useState(0);
  const [told, tell] = useState<Told | null>(null);
  const { seconds } = useTime();
  const offZero = load.offZero + turned * TURN * beam.mark;
  const off = imbalance(beam, isOn ? load.weight : 0, poises, offZero);
  const since = channels.still ? SETTLED : seconds - moved;

  const change = (does: () => void): void => {
    does();
    setMoved(seconds);
  };
  const slide = (marks: number): void => {
    const small = Math.round(poises.small / beam.mark + marks) * beam.mark;
    change(() => setPoises({ ...poises, small: Math.max(0, Math.min(beam.notch, small)) }));
  };
  const notch = (by: number): void => {
    const large = Math.max(0, Math.min(beam.notches, poises.large + by));
    change(() => setPoises({ ...poises, large }));
  };
  const record = (recorded: number): void => {
    const comparison = compare({ unit, truth: load.weight, recorded, said: null }, rules);
    const taken = { name: 'Weight', comparison, stretch: null };
    onTaken([taken]);
    tell({ taken, zeroed: isBalanced(beam, offZero), settled: isBalanced(beam, off) });
  };

  if (told) {
    const { truth } = told.taken.comparison;
    return (
      <Outcome
        taken={[told.taken]}
        remarks={[]}
        notes={[
          unit === 'pounds'
            ? `${figure(truth)} lb are ${toKilograms(truth).toFixed(1)} kg.`
            : `${figure(truth)} kg are ${toPounds(truth).toFixed(1)} lb.`,
          ...(told.zeroed
            ? []
            : [
                `The empty scale did not stand at zero: it weighed ${figure(Math.abs(offZero))} too ${offZero > 0 ? 'much' : 'little'}.`,
              ]),
          ...(told.settled ? [] : ['The beam did not balance when you recorded the number.']),
        ]}
        onNext={onNext}
      />
    );
  }
  const button = (text: string, does: () => void, disabled = false) => (
    <button type="button" className="button" disabled={disabled} onClick={does}>
      {text}
    </button>
  );
  return (
    <section className="bench-part" aria-label="The scale">
      <fieldset className="choices">
        <legend>The scale’s unit</legend>
        {(['pounds', 'kilograms'] as const).map((each) => (
          <label key={each} className="choice">
            <input
              type="radio"
              name="unit"
              disabled={isOn}
              checked={unit === each}
              onChange={() => change(() => setUnit(each))}
            />
            {each}
          </label>
        ))}
      </fieldset>
      <BalanceBeam beam={beam} poises={poises} pointer={pointerAt(beam, off, since)} />
      {!isOn && (
        <div className="actions">
          {button('Nut: lighter', () => change(() => setTurned(turned - 1)))}
          {button('Nut: heavier', () => change(() => setTurned(turned + 1)))}
          <button type="button" className="button main" onClick={() => change(() => stepOn(true))}>
            Resident steps on
          </button>
        </div>
      )}
      {isOn && (
        <>
          <div className="actions">
            {button('Large poise back', () => notch(-1), poises.large === 0)}
            {button('Large poise on', () => notch(1), poises.large === beam.notches)}
          </div>
          <div className="actions">
            {button('Small: far back', () => slide(-BIG))}
            {button('Small: back', () => slide(-1))}
            {button('Small: on', () => slide(1))}
            {button('Small: far on', () => slide(BIG))}
          </div>
          <Entry
            key={unit}
            fields={[
              unit === 'pounds'
                ? { label: 'Pounds', from: 60, to: 500, mark: beam.mark }
                : { label: 'Kilograms', from: 25, to: 250, mark: beam.mark },
            ]}
            onRecord={([recorded]) => record(recorded ?? NaN)}
          />
        </>
      )}
    </section>
  );
}
