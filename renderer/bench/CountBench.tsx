import { useMemo, useState } from 'react';
import {
  BREATH_PATTERNS,
  breathe,
  breathsInMinute,
  chestAt,
  type BreathPattern,
} from '../../app/bench/breaths.ts';
import { beat, beatsAMinute, PULSE_PATTERNS, wristAt, type PulsePattern } from '../../app/bench/pulse.ts';
import {
  compare,
  remarkOn,
  STOP_GRACE,
  type Counting,
  type Stretch,
} from '../../app/bench/readings/reading.ts';
import { tickSound } from '../../app/bench/sound.ts';
import { BENCH_RATE, vibrateAt } from './benchSound.ts';
import type { BenchProps } from './BenchPage.tsx';
import { clockAt, LONGEST, momentsOf, NOTHING, TICKS } from './counted.ts';
import { Chest } from './drawings/Chest.tsx';
import { Clock } from './drawings/Clock.tsx';
import { CountTruth, type Counted } from './drawings/TruthPicture.tsx';
import { Wrist, type Spot } from './drawings/Wrist.tsx';
import { Entry, type Field } from './Entry.tsx';
import { HoldSpot } from './HoldSpot.tsx';
import { Outcome, type Taken } from './Outcome.tsx';
import { useCues, useTime } from './useTime.ts';
import { PATTERN_SAYS } from './words.ts';

type Step =
  | { readonly name: 'before' | 'with the resident' }
  | { readonly name: 'counted'; readonly stretch: Stretch }
  | { readonly name: 'told'; readonly stretch: Stretch; readonly taken: Taken };

type Kind = Counted['kind'];

type Pattern = BreathPattern | PulsePattern;

const UNIT = { breaths: 'breaths a minute', beats: 'beats a minute' } as const;
const FIELDS: Readonly<Record<Kind, Field>> = {
  breaths: { label: 'Breaths a minute', from: 4, to: 60, mark: 1 },
  beats: { label: 'Beats a minute', from: 30, to: 200, mark: 1 },
};
const PATTERNS: Readonly<Record<Kind, readonly Pattern[]>> = {
  breaths: BREATH_PATTERNS,
  beats: PULSE_PATTERNS,
};

function residentOf(kind: Kind, seed: number, pattern: Pattern): Counted {
  return kind === 'breaths'
    ? { kind, of: breathe(seed, pattern === 'regular' ? 'even' : pattern, LONGEST) }
    : { kind, of: beat(seed, pattern === 'irregular' ? pattern : 'regular', LONGEST) };
}

/** Counting against a clock: breaths that are seen, or beats that are felt. */
export function CountBench({ kind, ...props }: BenchProps & { readonly kind: Kind }) {
  const { seed, rules, onTaken, onNext, sound } = props;
  const [step, go] = useState<Step>({ name: 'before' });
  const [pattern, choose] = useState<Pattern | 'any'>(PATTERNS[kind][0] ?? 'any');
  const [mayHalve, setMayHalve] = useState(false);
  const drawn = pattern === 'any' ? PATTERNS[kind][seed % PATTERNS[kind].length] : pattern;
  const resident = useMemo(() => residentOf(kind, seed, drawn ?? 'regular'), [kind, seed, drawn]);
  const counting: Counting = {
    mayHalve,
    pattern: resident.kind === 'breaths' ? 'breaths' : resident.of.pattern,
  };

  const record = (stretch: Stretch, recorded: number): void => {
    const reading = { unit: UNIT[kind], truth: truthOf(resident, stretch, counting), recorded, said: null };
    const name = kind === 'breaths' ? 'Respirations' : 'Pulse';
    const kept = isHalf(stretch, counting) ? null : stretch;
    const taken = { name, comparison: compare(reading, rules), stretch: kept };
    onTaken([taken]);
    go({ name: 'told', stretch, taken });
  };

  switch (step.name) {
    case 'before':
      return (
        <section className="bench-part">
          <PatternChoice kind={kind} pattern={pattern} onChoose={choose} />
          {kind === 'beats' && (
            <label className="choice">
              <input type="checkbox" checked={mayHalve} onChange={() => setMayHalve(!mayHalve)} />
              Half a minute, doubled, is allowed where the pulse is regular
            </label>
          )}
          <div className="actions">
            <button
              type="button"
              className="button main"
              onClick={() => {
                sound.open();
                go({ name: 'with the resident' });
              }}
            >
              Go to the resident
            </button>
          </div>
        </section>
      );
    case 'with the resident':
      return (
        <WithResident
          {...props}
          resident={resident}
          onCounted={(stretch) => go({ name: 'counted', stretch })}
        />
      );
    case 'counted':
      return (
        <Entry
          isNext
          fields={[FIELDS[kind]]}
          onRecord={([recorded]) => record(step.stretch, recorded ?? NaN)}
        />
      );
    case 'told': {
      const remark = remarkOn(step.stretch, counting);
      const seconds = isHalf(step.stretch, counting) ? 30 : 60;
      return (
        <Outcome taken={[step.taken]} remarks={remark ? [remark] : []} onNext={onNext}>
          <CountTruth counted={resident} stretch={step.stretch} seconds={seconds} />
        </Outcome>
      );
    }
  }
}

const PatternChoice = ({
  kind,
  pattern,
  onChoose,
}: {
  readonly kind: Kind;
  readonly pattern: Pattern | 'any';
  readonly onChoose: (pattern: Pattern | 'any') => void;
}) => (
  <fieldset className="choices">
    <legend>{kind === 'breaths' ? 'How the resident breathes' : 'What the pulse is like'}</legend>
    {[...PATTERNS[kind], 'any' as const].map((each) => (
      <label key={each} className="choice">
        <input type="radio" name="pattern" checked={pattern === each} onChange={() => onChoose(each)} />
        {each === 'any' ? 'Do not tell me' : PATTERN_SAYS[each]}
      </label>
    ))}
  </fieldset>
);

/** The resident, the clock, and the start and stop of the count. */
function WithResident({
  resident,
  seed,
  channels,
  sound,
  onCounted,
}: Pick<BenchProps, 'seed' | 'channels' | 'sound'> & {
  readonly resident: Counted;
  readonly onCounted: (stretch: Stretch) => void;
}) {
  const [from, start] = useState<number | null>(null);
  const [spot, hold] = useState<Spot | null>(null);
  const cues = useMemo(() => momentsOf(resident), [resident]);
  const passing = useTime();
  const { seconds } = passing;
  const isMet = resident.kind === 'breaths' || spot === 'thumb side';

  useCues(passing, isMet ? cues : NOTHING, ({ at, samples }, pageTime) => {
    if (channels.sound) sound.play(samples(seed + Math.round(at)), pageTime);
    if (channels.vibration) vibrateAt(pageTime);
  });
  useCues(passing, channels.clock ? TICKS : [], ({ at }, pageTime) =>
    sound.play(tickSound((at + clockAt(seed)) % 15 === 0, BENCH_RATE), pageTime),
  );

  const shows = channels.picture && isMet;
  return (
    <section className="bench-part" aria-label="With the resident">
      <div className="bench-stage">
        {resident.kind === 'breaths' ? (
          <Chest height={shows ? chestAt(resident.of, seconds) : 0} still={channels.still} />
        ) : (
          <Wrist spot={spot} lift={shows ? wristAt(resident.of, seconds) : 0} still={channels.still} />
        )}
        <Clock seconds={clockAt(seed) + seconds} still={channels.still} />
      </div>
      {resident.kind === 'beats' && <HoldSpot spot={spot} onHold={hold} />}
      <div className="actions">
        <button
          type="button"
          className="button main"
          autoFocus
          onClick={() => (from === null ? start(seconds) : onCounted({ from, to: seconds }))}
        >
          {from === null ? 'Start the count' : 'Stop the count'}
        </button>
      </div>
      <p role="status">{from === null ? '' : 'You are counting. Watch the clock.'}</p>
    </section>
  );
}

/** Whether half a minute was counted where it will do. */
const isHalf = (stretch: Stretch, counting: Counting): boolean =>
  stretch.to - stretch.from < 30 + 2 * STOP_GRACE && remarkOn(stretch, counting) === null;

const truthOf = (resident: Counted, stretch: Stretch, counting: Counting): number =>
  resident.kind === 'breaths'
    ? breathsInMinute(resident.of, stretch.from)
    : beatsAMinute(resident.of, stretch.from, isHalf(stretch, counting) ? 30 : 60);
