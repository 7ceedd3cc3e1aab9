import { VALVE } from '../../../app/bench/resident/asks.ts';
import { phaseAt, pressureAt, type Arm, type CuffPoint, type Phase } from '../../../app/bench/pressure.ts';
import type { Pulse } from '../../../app/bench/pulse.ts';
import { lastBy } from '../../../app/bench/rhythm.ts';
import { PHASE_SAYS } from '../words.ts';

/** How long a sound's word stands, in seconds. */
const WORD_FOR = 0.35;

/** The Korotkoff sound of a moment; null where there is none. */
export function phaseNow(
  arm: Arm,
  points: readonly CuffPoint[],
  { beats }: Pulse,
  seconds: number,
): Phase | null {
  const last = lastBy(beats, seconds);
  return last && seconds - last.at < WORD_FOR ? phaseAt(arm, pressureAt(points, last.at)) : null;
}

/** The sound of now as a word. */
export const Heard = ({ phase, shows }: { readonly phase: Phase | null; readonly shows: boolean }) => (
  <div className={phase ? 'bench-sound bench-sound-now' : 'bench-sound'}>
    {phase ? PHASE_SAYS[phase] : shows && 'no sound'}
    {!shows && 'Listen.'}
  </div>
);

/** How a valve stands, by its place among `VALVE`. */
export function valveSays(valve: number): string {
  if (valve <= 0) return 'shut';
  if (valve === VALVE.length - 1) return 'all the way open';
  return `open by ${valve} of ${VALVE.length - 2}`;
}
