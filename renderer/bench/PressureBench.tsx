import { useId, useMemo, useState } from 'react';
import {
  armOf,
  bladderFits,
  cuffTrace,
  GUIDANCE,
  heardBeats,
  lookBack,
  phaseAt,
  placedBelowHeart,
  pressureAt,
  wristIsFelt,
  type Arm,
  type CuffAction,
  type CuffPoint,
} from '../../app/bench/pressure.ts';
import { beat, wristAt, type Pulse } from '../../app/bench/pulse.ts';
import { compare } from '../../app/bench/readings/reading.ts';
import { VALVE } from '../../app/bench/resident/asks.ts';
import { HANGING } from '../../app/bench/resident/resident.ts';
import { beatSound, korotkoffSound } from '../../app/bench/sound.ts';
import { BENCH_RATE, vibrateAt } from './benchSound.ts';
import type { BenchProps } from './BenchPage.tsx';
import { LONGEST } from './counted.ts';
import { Gauge } from './drawings/Gauge.tsx';
import { Heard, phaseNow, valveSays } from './drawings/Heard.tsx';
import { CuffTruth } from './drawings/TruthPicture.tsx';
import { Wrist } from './drawings/Wrist.tsx';
import { Entry, type Field } from './Entry.tsx';
import { Outcome, type Taken } from './Outcome.tsx';
import { useCues, useTime } from './useTime.ts';

/** Bladders of the cuffs that lie ready, in centimetres. */
const BLADDERS = [18, 24, 30, 36] as const;
/** Sounds further ahead than this do not count yet, in seconds: the cuff may still be changed. */
const SOON = 0.2;

type Step =
  | { readonly name: 'before' | 'measuring' }
  | { readonly name: 'writing'; readonly points: readonly CuffPoint[] }
  | { readonly name: 'told'; readonly points: readonly CuffPoint[]; readonly taken: readonly Taken[] };

/** What is settled before the cuff is pumped up. */
interface Setting {
  readonly withGap: boolean;
  readonly isSupported: boolean;
  /** Length of the cuff's bladder in centimetres. */
  readonly bladder: number;
}

/** How round the arm is, in centimetres: from small to large. */
const armRound = (seed: number): number => 24 + (seed % 20);

const FIELDS: readonly Field[] = [
  { label: 'Upper number', from: 60, to: 260, mark: GUIDANCE.mark },
  { label: 'Lower number', from: 30, to: 140, mark: GUIDANCE.mark },
];

/** Measuring blood pressure by ear. */
export function PressureBench(props: BenchProps) {
  const { seed, rules, sound, onTaken, onNext } = props;
  const [step, go] = useState<Step>({ name: 'before' });
  const [setting, set] = useState<Setting>({ withGap: false, isSupported: true, bladder: 24 });
  const pulse = useMemo(() => beat(seed, 'regular', LONGEST), [seed]);
  const own = useMemo(() => armOf(seed, setting.withGap), [seed, setting.withGap]);
  const arm = setting.isSupported ? own : placedBelowHeart(own, HANGING);

  const record = (recorded: readonly number[], points: readonly CuffPoint[]): void => {
    const { first, last } = lookBack(arm, pulse, points);
    const taken = [first, last].flatMap((truth, i): readonly Taken[] => {
      const [name, value] = [FIELDS[i]?.label, recorded[i]];
      if (truth === null || name === undefined || value === undefined) return [];
      const reading = { unit: 'mmHg', truth, recorded: value, said: null } as const;
      return [{ name, comparison: compare(reading, rules), stretch: null }];
    });
    onTaken(taken);
    go({ name: 'told', points, taken });
  };

  switch (step.name) {
    case 'before':
      return (
        <Before
          round={armRound(seed)}
          setting={setting}
          onSet={set}
          onBegin={() => {
            sound.open();
            go({ name: 'measuring' });
          }}
        />
      );
    case 'measuring':
      return (
        <Measuring
          {...props}
          arm={arm}
          pulse={pulse}
          onMeasured={(points) => go({ name: 'writing', points })}
        />
      );
    case 'writing':
      return <Entry isNext fields={FIELDS} onRecord={(recorded) => record(recorded, step.points)} />;
    case 'told': {
      const measured = lookBack(arm, pulse, step.points);
      const { rate, remarks } = measured;
      const notes = [
        ...(rate === null ? [] : [`You let it down at ${rate.toFixed(1)} mmHg a second.`]),
        ...placeNotes(own, setting, armRound(seed)),
        ...silence(step.taken),
      ];
      return (
        <Outcome taken={step.taken} remarks={remarks} notes={notes} onNext={onNext}>
          <CuffTruth points={step.points} heard={heardBeats(arm, pulse, step.points)} measured={measured} />
        </Outcome>
      );
    }
  }
}

/** Which cuff, where the arm lies, which resident. */
function Before({
  round,
  setting,
  onSet,
  onBegin,
}: {
  /** Centimetres round the upper arm. */
  readonly round: number;
  readonly setting: Setting;
  readonly onSet: (setting: Setting) => void;
  readonly onBegin: () => void;
}) {
  const { withGap, isSupported, bladder } = setting;
  return (
    <section className="bench-part">
      <p>
        The resident’s upper arm is <strong>{round} cm</strong> round.
      </p>
      <Choice
        legend="The cuff: how long its bladder is"
        options={BLADDERS.map((each) => [each, `${each} cm`])}
        chosen={bladder}
        onChoose={(each) => onSet({ ...setting, bladder: each })}
      />
      <Choice
        legend="The arm"
        options={[
          [true, 'supported at the height of the heart'],
          [false, 'hanging down'],
        ]}
        chosen={isSupported}
        onChoose={(each) => onSet({ ...setting, isSupported: each })}
      />
      <label className="choice">
        <input type="checkbox" checked={withGap} onChange={() => onSet({ ...setting, withGap: !withGap })} />
        Advanced: a resident with high pressure and a silent gap
      </label>
      <div className="actions">
        <button type="button" className="button main" onClick={onBegin}>
          Put the cuff on
        </button>
      </div>
    </section>
  );
}

function Choice<T extends number | boolean>({
  legend,
  options,
  chosen,
  onChoose,
}: {
  readonly legend: string;
  readonly options: readonly (readonly [T, string])[];
  readonly chosen: T;
  readonly onChoose: (option: T) => void;
}) {
  const name = useId();
  return (
    <fieldset className="choices">
      <legend>{legend}</legend>
      {options.map(([option, text]) => (
        <label key={text} className="choice">
          <input type="radio" name={name} checked={chosen === option} onChange={() => onChoose(option)} />
          {text}
        </label>
      ))}
    </fieldset>
  );
}

/** The cuff in the trainee's hands: bulb, valve, gauge, and what is felt or heard. */
function Measuring({
  arm,
  pulse,
  seed,
  channels,
  sound,
  onMeasured,
}: Pick<BenchProps, 'seed' | 'channels' | 'sound'> & {
  readonly arm: Arm;
  readonly pulse: Pulse;
  readonly onMeasured: (points: readonly CuffPoint[]) => void;
}) {
  const [listens, setListens] = useState(false);
  const [actions, act] = useState<readonly CuffAction[]>([]);
  const passing = useTime();
  const { seconds } = passing;
  const points = cuffTrace(actions, seconds + SOON);
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

  useCues(passing, pulse.beats, (each, pageTime) => {
    const at = pressureAt(points, each.at);
    const phase = phaseAt(arm, at);
    if (listens ? phase === null : !wristIsFelt(arm, at)) return;
    if (channels.vibration) vibrateAt(pageTime);
    if (!channels.sound) return;
    if (!listens) sound.play(beatSound(each, BENCH_RATE), pageTime);
    else if (phase) sound.play(korotkoffSound(phase, BENCH_RATE, seed + Math.round(each.at * 10)), pageTime);
  });

  const shows = channels.picture;
  return (
    <section className="bench-part" aria-label="Measuring">
      <div className="bench-stage bench-stage-even">
        <Gauge pressure={pressure} still={channels.still} />
        {listens ? (
          <Heard phase={shows ? phaseNow(arm, points, pulse, seconds) : null} shows={shows} />
        ) : (
          <Wrist
            spot="thumb side"
            lift={shows && wristIsFelt(arm, pressure) ? wristAt(pulse, seconds) : 0}
            still={channels.still}
          />
        )}
      </div>
      <Choice
        legend="What you do besides"
        options={[
          [false, 'feel the wrist'],
          [true, 'listen with the stethoscope'],
        ]}
        chosen={listens}
        onChoose={setListens}
      />
      <Hands valve={valve} onSqueeze={squeeze} onTurn={turn} />
      <div className="actions">
        <button type="button" className="button" onClick={() => onMeasured(cuffTrace(actions, seconds))}>
          I have both numbers
        </button>
      </div>
    </section>
  );
}

/** Bulb and valve, by buttons or the arrow keys. */
function Hands({
  valve,
  onSqueeze,
  onTurn,
}: {
  /** Which of `VALVE` it stands at. */
  readonly valve: number;
  readonly onSqueeze: () => void;
  readonly onTurn: (valve: number) => void;
}) {
  const hands: readonly (readonly [key: string, sign: string, text: string, does: () => void])[] = [
    ['ArrowUp', '↑', 'Squeeze the bulb', onSqueeze],
    ['ArrowRight', '→', 'Valve: more open', () => onTurn(valve + 1)],
    ['ArrowLeft', '←', 'Valve: less open', () => onTurn(valve - 1)],
    ['ArrowDown', '↓', 'All the air out', () => onTurn(VALVE.length - 1)],
  ];
  return (
    <div
      className="bench-part"
      onKeyDown={(event) => {
        const hand = hands.find(([key]) => key === event.key);
        if (!hand) return;
        event.preventDefault();
        hand[3]();
      }}
    >
      <div className="actions bench-keys">
        {hands.map(([key, sign, text, does], i) => (
          <button
            key={key}
            type="button"
            className={i === 0 ? 'button main' : 'button'}
            autoFocus={i === 0}
            onClick={does}
          >
            {text} <kbd>{sign}</kbd>
          </button>
        ))}
      </div>
      <p role="status">The valve is {valveSays(valve)}.</p>
    </div>
  );
}

const lastRate = (actions: readonly CuffAction[]): (typeof VALVE)[number] => {
  const last = actions.findLast((action) => action.do === 'valve');
  return VALVE.find((rate) => last?.do === 'valve' && rate === last.rate) ?? 0;
};

/** What the cuff and the arm's place did to the numbers. */
function placeNotes(arm: Arm, { isSupported, bladder }: Setting, round: number): string[] {
  const best = BLADDERS.find((each) => bladderFits(each, round));
  const higher = Math.round(placedBelowHeart(arm, HANGING).systolic - arm.systolic);
  return [
    `At heart height this resident has ${arm.systolic} over ${arm.diastolic}.`,
    ...(isSupported ? [] : [`The arm hung down: the numbers come out some ${higher} mmHg too high.`]),
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
