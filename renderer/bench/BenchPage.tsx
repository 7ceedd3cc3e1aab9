import { useEffect, useState } from 'react';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import type { Measure } from '../../app/skills/measure.ts';
import type { Rules } from '../../app/skills/skill.ts';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import '../styles/screens/bench.css';
import { ChannelChoice, type Channels } from '../atBench/ChannelChoice.tsx';
import { BenchSound } from './benchSound.ts';
import { ContainerBench } from './ContainerBench.tsx';
import { CountBench } from './CountBench.tsx';
import { keptOf, type Taken } from './Outcome.tsx';
import { PressureBench } from './PressureBench.tsx';
import { ScaleBench } from './ScaleBench.tsx';
import { SoFar } from './SoFar.tsx';
import { useLessMotion } from './useTime.ts';
import { MEASURES } from './words.ts';

/** What each measure is given. */
export interface BenchProps {
  readonly seed: number;
  readonly rules: Pick<Rules, 'tolerances'>;
  readonly channels: Channels;
  readonly sound: BenchSound;
  readonly onTaken: (taken: readonly Taken[]) => void;
  readonly onNext: () => void;
}

const newSeed = (): number => crypto.getRandomValues(new Uint32Array(1))[0] ?? 0;

/**
 * The bench: a simulated resident to measure, each measure alone.
 *
 * @param seed of the first resident; the next ones follow it. Without it they are drawn.
 */
export function BenchPage({
  rules,
  seed: firstSeed,
  onBack,
  before = [],
  isKept = false,
  onTaken,
}: {
  readonly rules: Pick<Rules, 'tolerances'>;
  readonly seed?: number;
  readonly onBack: () => void;
  /** What was read on other days. */
  readonly before?: readonly ReadingTaken[];
  /** Whether readings stay after the page is left. */
  readonly isKept?: boolean;
  readonly onTaken?: (readings: readonly ReadingTaken[]) => void;
}) {
  const less = useLessMotion();
  const [measure, choose] = useState<Measure>('respirations');
  const [isOn, begin] = useState(false);
  const [seed, setSeed] = useState(() => firstSeed ?? newSeed());
  const [chosen, setChannels] = useState({
    picture: true,
    sound: true,
    vibration: false,
    clock: false,
    still: false,
  });
  const [taken, setTaken] = useState<readonly ReadingTaken[]>([]);
  const [sound] = useState(() => new BenchSound());
  useEffect(() => () => void sound.close(), [sound]);
  const channels = { ...chosen, still: chosen.still || less };

  const props: BenchProps & { readonly key: string } = {
    key: `${measure} ${seed}`,
    seed,
    rules,
    channels,
    sound,
    onTaken: (now) => {
      const readings = now.map((each) => keptOf(each, new Date()));
      setTaken([...taken, ...readings]);
      onTaken?.(readings);
    },
    onNext: () => setSeed(firstSeed === undefined ? newSeed() : seed + 1),
  };
  if (isOn)
    return (
      <main className="page page-wide">
        <Heading>{MEASURES[measure].title}</Heading>
        {measureOf(measure, props)}
        <div className="actions">
          <button type="button" className="button" onClick={() => begin(false)}>
            Measure something else
          </button>
        </div>
        <Caution />
      </main>
    );
  return (
    <main className="page page-wide">
      <Heading>The bench: a resident to measure</Heading>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          begin(true);
        }}
      >
        <fieldset className="cards">
          <legend>What to measure</legend>
          {(Object.keys(MEASURES) as Measure[]).map((each) => (
            <label key={each} className="card">
              <input type="radio" name="measure" checked={measure === each} onChange={() => choose(each)} />
              <span className="card-title">{MEASURES[each].title}</span>
              <span className="card-text">{MEASURES[each].text}</span>
            </label>
          ))}
        </fieldset>
        <ChannelChoice channels={channels} less={less} onChange={setChannels} />
        <div className="actions">
          <button type="submit" className="button main">
            Begin
          </button>
          <button type="button" className="button" onClick={onBack}>
            Back to the start
          </button>
        </div>
      </form>
      <SoFar readings={[...before, ...taken]} isKept={isKept} />
      <Caution />
    </main>
  );
}

function measureOf(measure: Measure, { key, ...props }: BenchProps & { readonly key: string }) {
  switch (measure) {
    case 'respirations':
      return <CountBench key={key} kind="breaths" {...props} />;
    case 'pulse':
      return <CountBench key={key} kind="beats" {...props} />;
    case 'pressure':
      return <PressureBench key={key} {...props} />;
    case 'urine':
      return <ContainerBench key={key} {...props} />;
    case 'weight':
      return <ScaleBench key={key} {...props} />;
  }
}
