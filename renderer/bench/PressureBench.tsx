import { useMemo, useState } from 'react';
import {
  armOf,
  bladderFits,
  cuffTrace,
  GUIDANCE,
  heardBeats,
  lookBack,
  OPEN,
  phaseAt,
  placedBelowHeart,
  pressureAt,
  wristIsFelt,
  type Arm,
  type CuffAction,
  type CuffPoint,
  type Phase,
} from '../../app/bench/pressure.ts';
import { beat, wristAt } from '../../app/bench/pulse.ts';
import { compare } from '../../app/bench/reading.ts';
import { lastBy } from '../../app/bench/rhythm.ts';
import { beatSound, korotkoffSound } from '../../app/bench/sound.ts';
import { BENCH_RATE, vibrateAt } from './benchSound.ts';
import type { BenchProps } from './BenchPage.tsx';
import { Gauge } from './drawings/Gauge.tsx';
import { CuffTruth } from './drawings/TruthPicture.tsx';
import { Wrist } from './drawings/Wrist.tsx';
import { Entry } from './Entry.tsx';
import { Outcome, type Taken } from './Outcome.tsx';
import { useCues, useTime } from './useTime.ts';
import { PHASE_SAYS } from './words.ts';

const LONGEST = 900;
/** How the valve can stand, from shut to all the way open, in mmHg a second. The trainee judges by the needle. */
const VALVE = [0, 1, 2, 2.5, 3, 4, 6, 10, OPEN] as const;
/** Bladders of the cuffs that lie ready, in centimetres, and how far below the heart a hanging arm's cuff is. */
const BLADDERS = [18, 24, 30, 36] as const;
const HANGING = 16;
/** How long a sound's word stands, in seconds. */
const WORD_FOR = 0.35;
/** Sounds further ahead than this do not count yet, in seconds: the cuff may still be changed. */
const SOON = 0.2;

type Step =
  | { readonly name: 'before' | 'measuring' }
  | { readonly name: 'writing'; readonly points: readonly CuffPoint[] }
  | { readonly name: 'told'; readonly points: readonly CuffPoint[]; readonly taken: readonly Taken[] };

/** How round the arm is, in centimetres: from small to large. */
const armRound = (seed: number): number => 24 + (seed % 20);

/** Measuring blood pressure by ear. */
export function PressureBench({ seed, rules, channels, sound, onTaken, onNext }: BenchProps) {
  const [step, go] = useState<Step>({ name: 'before' });
  const [withGap, setWithGap] = useState(false);
  const [supported, setSupported] = useState(true);
  const [bladder, setBladder] = useState<number>(24);
  const [listens, setListens] = useState(false);
  const [actions, act] = useState<readonly CuffAction[]>([]);
  const pulse = useMemo(() => beat(seed, 'regular', LONGEST), [seed]);
  const own = useMemo(() => armOf(seed, withGap), [seed, withGap]);
  const arm = supported ? own : placedBelowHeart(own, HANGING);
  const passing = useTime(step.name === 'measuring');
  const { seconds } = passing;
  const points = useMemo(() => cuffTrace(actions, seconds + SOON), [actions, seconds]);
  const pressure = pressureAt(points, seconds);

  const valve = VALVE.indexOf(lastRate(actions));
  const turn = (to: number): void => {
    const rate = VALVE[Math.max(0, Math.min(VALVE.length - 1, to))] ?? 0;
    act([...actions, { at: seconds, do: 'valve', rate }]);
  };
  // Pumping with the valve open only lets the air through; the hand that pumps shuts it first.
  const squeeze = (): void =>
    act([
      ...actions,
      ...(valve > 0 ? [{ at: seconds, do: 'valve', rate: 0 } as const] : []),
      { at: seconds, do: 'squeeze' },
    ]);
  const keys: Readonly<Record<string, () => void>> = {
    ArrowUp: squeeze,
    ArrowRight: () => turn(valve + 1),
    ArrowLeft: () => turn(valve - 1),
    ArrowDown: () => turn(VALVE.length - 1),
  };

  useCues(passing, step.name === 'measuring' ? pulse.beats : [], (each, pageTime) => {
    const at = pressureAt(points, each.at);
    const phase = phaseAt(arm, at);
    if (listens ? phase === null : !wristIsFelt(arm, at)) return;
    if (channels.vibration) vibrateAt(pageTime);
    if (!channels.sound) return;
    if (!listens) sound.play(beatSound(each, BENCH_RATE), pageTime);
    else if (phase) sound.play(korotkoffSound(phase, BENCH_RATE, seed + Math.round(each.at * 10)), pageTime);
  });

  const record = (upper: number, lower: number, shown: readonly CuffPoint[]): void => {
    const { first, last } = lookBack(arm, pulse, shown);
    const reading = (name: string, truth: number, recorded: number): Taken => ({
      name,
      comparison: compare({ unit: 'mmHg', truth, recorded, said: null }, rules),
      stretch: null,
    });
    const taken = [
      ...(first === null ? [] : [reading('Upper number', first, upper)]),
      ...(last === null ? [] : [reading('Lower number', last, lower)]),
    ];
    onTaken(taken);
    go({ name: 'told', points: shown, taken });
  };

  switch (step.name) {
    case 'before':
      return (
        <section className="bench-part">
          <p>
            The resident’s upper arm is <strong>{armRound(seed)} cm</strong> round.
          </p>
          <fieldset className="choices">
            <legend>The cuff: how long its bladder is</legend>
            {BLADDERS.map((each) => (
              <label key={each} className="choice">
                <input
                  type="radio"
                  name="bladder"
                  checked={bladder === each}
                  onChange={() => setBladder(each)}
                />
                {each} cm
              </label>
            ))}
          </fieldset>
          <fieldset className="choices">
            <legend>The arm</legend>
            {[true, false].map((each) => (
              <label key={String(each)} className="choice">
                <input
                  type="radio"
                  name="arm"
                  checked={supported === each}
                  onChange={() => setSupported(each)}
                />
                {each ? 'supported at the height of the heart' : 'hanging down'}
              </label>
            ))}
          </fieldset>
          <label className="choice">
            <input type="checkbox" checked={withGap} onChange={() => setWithGap(!withGap)} />
            Advanced: a resident with high pressure and a silent gap
          </label>
          <div className="actions">
            <button
              type="button"
              className="button main"
              onClick={() => {
                sound.open();
                go({ name: 'measuring' });
              }}
            >
              Put the cuff on
            </button>
          </div>
        </section>
      );
    case 'measuring':
      return (
        <section
          className="bench-part"
          aria-label="Measuring"
          onKeyDown={(event) => {
            const does = keys[event.key];
            if (!does || event.target instanceof HTMLInputElement) return;
            event.preventDefault();
            if (!event.repeat || event.key !== 'ArrowDown') does();
          }}
        >
          <div className="bench-stage bench-stage-even">
            <Gauge pressure={pressure} still={channels.still} />
            {listens ? (
              <Heard
                phase={channels.picture ? phaseNow(arm, points, pulse.beats, seconds) : null}
                shows={channels.picture}
              />
            ) : (
              <Wrist
                spot="thumb side"
                lift={channels.picture && wristIsFelt(arm, pressure) ? wristAt(pulse, seconds) : 0}
                still={channels.still}
              />
            )}
          </div>
          <fieldset className="choices">
            <legend>What you do besides</legend>
            {[false, true].map((each) => (
              <label key={String(each)} className="choice">
                <input
                  type="radio"
                  name="besides"
                  checked={listens === each}
                  onChange={() => setListens(each)}
                />
                {each ? 'listen with the stethoscope' : 'feel the wrist'}
              </label>
            ))}
          </fieldset>
          <div className="actions bench-keys">
            <button type="button" className="button main" autoFocus onClick={squeeze}>
              Squeeze the bulb <kbd>↑</kbd>
            </button>
            <button type="button" className="button" onClick={() => turn(valve + 1)}>
              Valve: more open <kbd>→</kbd>
            </button>
            <button type="button" className="button" onClick={() => turn(valve - 1)}>
              Valve: less open <kbd>←</kbd>
            </button>
            <button type="button" className="button" onClick={() => turn(VALVE.length - 1)}>
              All the air out <kbd>↓</kbd>
            </button>
          </div>
          <p role="status">The valve is {valveSays(valve)}.</p>
          <div className="actions">
            <button
              type="button"
              className="button"
              onClick={() => go({ name: 'writing', points: cuffTrace(actions, seconds) })}
            >
              I have both numbers
            </button>
          </div>
        </section>
      );
    case 'writing':
      return (
        <Entry
          isNext
          fields={[
            { label: 'Upper number', from: 60, to: 260, mark: GUIDANCE.mark },
            { label: 'Lower number', from: 30, to: 140, mark: GUIDANCE.mark },
          ]}
          onRecord={([upper, lower]) => record(upper ?? NaN, lower ?? NaN, step.points)}
        />
      );
    case 'told': {
      const measured = lookBack(arm, pulse, step.points);
      const speed =
        measured.rate === null ? [] : [`You let it down at ${measured.rate.toFixed(1)} mmHg a second.`];
      return (
        <Outcome
          taken={step.taken}
          remarks={measured.remarks}
          notes={[...speed, ...placeNotes(own, supported, bladder, armRound(seed)), ...silence(step.taken)]}
          onNext={onNext}
        >
          <CuffTruth points={step.points} heard={heardBeats(arm, pulse, step.points)} measured={measured} />
        </Outcome>
      );
    }
  }
}

const lastRate = (actions: readonly CuffAction[]): (typeof VALVE)[number] => {
  const last = actions.findLast((action) => action.do === 'valve');
  return VALVE.find((rate) => last?.do === 'valve' && rate === last.rate) ?? 0;
};

function valveSays(valve: number): string {
  if (valve <= 0) return 'shut';
  if (valve === VALVE.length - 1) return 'all the way open';
  return `open by ${valve} of ${VALVE.length - 2}`;
}

function phaseNow(
  arm: Arm,
  points: readonly CuffPoint[],
  beats: Parameters<typeof lastBy>[0],
  seconds: number,
): Phase | null {
  const last = lastBy(beats, seconds);
  return last && seconds - last.at < WORD_FOR ? phaseAt(arm, pressureAt(points, last.at)) : null;
}

/** The sound of now as a word. */
const Heard = ({ phase, shows }: { readonly phase: Phase | null; readonly shows: boolean }) => (
  <div className={phase ? 'bench-sound bench-sound-now' : 'bench-sound'}>
    {phase ? PHASE_SAYS[phase] : shows && 'no sound'}
    {!shows && 'Listen.'}
  </div>
);

/** What the cuff and the arm's place did to the numbers. */
function placeNotes(arm: Arm, supported: boolean, bladder: number, round: number): string[] {
  const best = BLADDERS.find((each) => bladderFits(each, round));
  const higher = Math.round(placedBelowHeart(arm, HANGING).systolic - arm.systolic);
  return [
    `At heart height this resident has ${arm.systolic} over ${arm.diastolic}.`,
    ...(supported ? [] : [`The arm hung down: the numbers come out some ${higher} mmHg too high.`]),
    ...(best === bladder
      ? []
      : [
          `The cuff did not fit: a bladder of ${best ?? 36} cm goes round at least 80 % of an arm of ${round} cm and not much more. Too small a cuff reads too high, too large a one too low; the sounds here do not show by how much.`,
        ]),
  ];
}

const silence = (taken: readonly Taken[]): string[] =>
  taken.length > 0
    ? []
    : ['No sound could be heard when the cuff was last let down, so there is nothing to compare with.'];
