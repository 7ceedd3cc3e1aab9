import { useMemo } from 'react';
import { chestAt } from '../../app/bench/breaths.ts';
import { wristAt } from '../../app/bench/pulse.ts';
import { breathingOf, pulseOf, type Resident } from '../../app/bench/resident/resident.ts';
import { tickSound } from '../../app/bench/sound.ts';
import { BENCH_RATE, vibrateAt } from '../bench/benchSound.ts';
import { clockAt, LONGEST, momentsOf, NOTHING, TICKS } from '../bench/counted.ts';
import { Chest } from '../bench/drawings/Chest.tsx';
import { Clock } from '../bench/drawings/Clock.tsx';
import type { Counted } from '../bench/drawings/TruthPicture.tsx';
import { Wrist } from '../bench/drawings/Wrist.tsx';
import { useCues } from '../bench/useTime.ts';
import type { AtBenchProps } from './AtBench.tsx';

/** A resident's breaths or beats, up to so many seconds of their own time. */
export const countedOf = (resident: Resident, seconds: number): Counted =>
  resident.measure === 'respirations'
    ? { kind: 'breaths', of: breathingOf(resident, seconds) }
    : { kind: 'beats', of: pulseOf(resident, seconds) };

/** Breaths to be seen, or beats to be felt, beside a clock without digits. */
export function Counting({ resident, instruments, passing, channels, sound }: AtBenchProps) {
  const { seed } = resident;
  const counted = useMemo(() => countedOf(resident, LONGEST), [resident]);
  const cues = useMemo(() => momentsOf(counted), [counted]);
  const { seconds } = passing;
  const isMet = counted.kind === 'breaths' || instruments.fingersOn;
  useCues(passing, isMet ? cues : NOTHING, ({ at, samples }, pageTime) => {
    if (channels.sound) sound.play(samples(seed + Math.round(at)), pageTime);
    if (channels.vibration) vibrateAt(pageTime);
  });
  useCues(passing, channels.clock ? TICKS : [], ({ at }, pageTime) =>
    sound.play(tickSound((at + clockAt(seed)) % 15 === 0, BENCH_RATE), pageTime),
  );
  const shows = channels.picture && isMet;
  return (
    <>
      <div className="bench-stage">
        {counted.kind === 'breaths' ? (
          <Chest height={shows ? chestAt(counted.of, seconds) : 0} still={channels.still} />
        ) : (
          <Wrist
            spot={instruments.fingersOn ? 'thumb side' : null}
            lift={shows ? wristAt(counted.of, seconds) : 0}
            still={channels.still}
          />
        )}
        <Clock seconds={clockAt(seed) + seconds} still={channels.still} />
      </div>
      {counted.kind === 'beats' && (
        <p role="status">
          {instruments.fingersOn
            ? 'Your fingers are on the pulse.'
            : 'Your fingers are not on the pulse yet.'}
        </p>
      )}
    </>
  );
}
