import type { Moment } from '../../app/bench/rhythm.ts';
import { beatSound, breathSound, type Samples } from '../../app/bench/sound.ts';
import { BENCH_RATE } from './benchSound.ts';
import type { Counted } from './drawings/TruthPicture.tsx';

/** How long a resident can be watched, in seconds. */
export const LONGEST = 7200;

/** What the clock on the wall shows when the trainee comes in, in seconds since midnight: some minutes past ten. */
export const clockAt = (seed: number): number => 36_480 + (seed % 60);

export const TICKS: readonly Moment[] = Array.from({ length: LONGEST }, (_, at) => ({ at }));

export interface Cue extends Moment {
  readonly samples: (seed: number) => Samples;
}
export const NOTHING: readonly Cue[] = [];

export const momentsOf = (resident: Counted): readonly Cue[] =>
  resident.kind === 'breaths'
    ? resident.of.breaths.map((each) => ({ at: each.at, samples: (s) => breathSound(each, BENCH_RATE, s) }))
    : resident.of.beats.map((each) => ({ at: each.at, samples: () => beatSound(each, BENCH_RATE) }));
