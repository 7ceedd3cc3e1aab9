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

/**
 * The tables there are, at most one for each that listens. No figures from unlike sets of narrations in one table: recall differs more
 * between sets than between levels.
 */
export const RECALL_TABLES: readonly RecallTable[] = [
  {
    listening: 'moonshine/moonshine-tiny-en',
    quiet: 0.903,
    besideTap: [{ snr: 10, recall: 0.806 }],
    source: {
      command: 'not written down: copied from DEVELOPERS.md, "Few words are required"',
      voice: 'not written down; the benchmark’s usual one is joe',
      when: '2026-11-30, copied',
    },
  },
];

/** The table of what listens; null where that was not measured. */
export function recallTableOf(listening: string): RecallTable | null {
  return RECALL_TABLES.find((table) => table.listening === listening) ?? null;
}
