import { useMemo } from 'react';
import { cuffTrace, phaseAt, pressureAt, wristIsFelt } from '../../app/bench/pressure.ts';
import { wristAt } from '../../app/bench/pulse.ts';
import { VALVE } from '../../app/bench/resident/asks.ts';
import { armAs, pulseOf } from '../../app/bench/resident/resident.ts';
import { beatSound, korotkoffSound } from '../../app/bench/sound.ts';
import { BENCH_RATE, vibrateAt } from '../bench/benchSound.ts';
import { LONGEST } from '../bench/counted.ts';
import { Gauge } from '../bench/drawings/Gauge.tsx';
import { Heard, phaseNow, valveSays } from '../bench/drawings/Heard.tsx';
import { Wrist } from '../bench/drawings/Wrist.tsx';
import { useCues } from '../bench/useTime.ts';
import type { AtBenchProps } from './AtBench.tsx';

/** Sounds further ahead than this do not count yet, in seconds: the cuff may still be changed. */
const SOON = 0.2;

/** The cuff's gauge, and what is felt at the wrist or heard with the stethoscope. */
export function Squeezing({ resident, instruments, passing, channels, sound }: AtBenchProps) {
  const { cuff, listens, isSupported, valve } = instruments;
  const pulse = useMemo(() => pulseOf(resident, LONGEST), [resident]);
  const arm = useMemo(() => armAs(resident, isSupported), [resident, isSupported]);
  const { seconds } = passing;
  const points = cuffTrace(cuff, seconds + SOON);
  const pressure = pressureAt(points, seconds);
  useCues(passing, pulse.beats, (each, pageTime) => {
    const at = pressureAt(points, each.at);
    const phase = phaseAt(arm, at);
    if (listens ? phase === null : !wristIsFelt(arm, at)) return;
    if (channels.vibration) vibrateAt(pageTime);
    if (!channels.sound) return;
    if (!listens) sound.play(beatSound(each, BENCH_RATE), pageTime);
    else if (phase)
      sound.play(korotkoffSound(phase, BENCH_RATE, resident.seed + Math.round(each.at * 10)), pageTime);
  });
  const shows = channels.picture;
  return (
    <>
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
      <p role="status">
        The valve is {valveSays(VALVE.findIndex((rate) => rate === valve))}.{' '}
        {listens ? 'You listen.' : 'You feel the wrist.'}
      </p>
    </>
  );
}
