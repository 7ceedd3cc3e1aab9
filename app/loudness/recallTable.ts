/** How much of what is said is heard beside a tap: one measured table, to be replaced whole when it is measured again. */

export interface RecallTable {
  /** What listened, as records name it: engine and model. Another model hears differently, and needs a table of its own. */
  readonly listening: string;
  /** Share of the steps said that were credited with no noise at all, 0–1. */
  readonly quiet: number;
  /** The same beside a tap: `snr` in dB as `mix` in tests/speech/noise.ts sets it, rising. At least one row. */
  readonly besideTap: readonly [RecallRow, ...RecallRow[]];
  /** Where the figures come from, so that they can be measured again. */
  readonly source: { readonly command: string; readonly voice: string; readonly when: string };
}

export interface RecallRow {
  readonly snr: number;
  readonly recall: number;
}

/** Eight narrations by new people, none of which anything was tuned on. */
const COMMAND =
  'npm run bench:speech -- --voice joe --split held-out --narration=-86-re --no-baseline --marks-only --noise clean --noise tap@10';

/**
 * The tables there are, at most one for each that listens. No figures from unlike sets of narrations in one table: recall differs more
 * between sets than between levels.
 */
export const RECALL_TABLES: readonly RecallTable[] = [
  {
    listening: 'moonshine/moonshine-tiny-en-tap',
    quiet: 0.926,
    besideTap: [
      { snr: 0, recall: 0.503 },
      { snr: 5, recall: 0.76 },
      { snr: 10, recall: 0.851 },
    ],
    source: { command: `${COMMAND} --noise tap@5 --noise tap@0`, voice: 'joe', when: '2026-11-30' },
  },
  {
    listening: 'moonshine/moonshine-tiny-en',
    quiet: 0.903,
    besideTap: [{ snr: 10, recall: 0.806 }],
    source: {
      command: COMMAND,
      voice: 'joe',
      when: '2026-11-29, before the judge was believed sooner in place',
    },
  },
];

/** The table of what listens; null where that was not measured. */
export function recallTableOf(listening: string): RecallTable | null {
  return RECALL_TABLES.find((table) => table.listening === listening) ?? null;
}
