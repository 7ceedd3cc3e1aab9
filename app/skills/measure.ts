/** What a simulated resident can be measured for, and what the steps of a skill do with them: the words that skill files use. */

/** What a step can do, by the measure. `look`: nothing but that the resident, or the instrument, is there to be seen. */
export const BENCH_STEPS = {
  respirations: ['look', 'count'],
  pulse: ['look', 'hold', 'count'],
  pressure: ['look', 'support arm', 'listen', 'pump', 'let down', 'all air out'],
  urine: ['look', 'eye level'],
  weight: ['look', 'set to zero', 'step on', 'step off'],
} as const;

export type Measure = keyof typeof BENCH_STEPS;
export type BenchStep = (typeof BENCH_STEPS)[Measure][number];

export const MEASURES = Object.keys(BENCH_STEPS) as readonly Measure[];

/** All that steps can do, each once. */
export const ALL_BENCH_STEPS: readonly BenchStep[] = [...new Set(Object.values(BENCH_STEPS).flat())];

/** Whether a step of a skill with this measure can do that. */
export const canDo = (measure: Measure, does: BenchStep): boolean =>
  (BENCH_STEPS[measure] as readonly BenchStep[]).includes(does);
