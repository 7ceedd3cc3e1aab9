import { z } from 'zod';

/** What runs a model. */
export const ENGINES = ['moonshine', 'vosk'] as const;
export type Engine = (typeof ENGINES)[number];

/** What may listen: an engine alone, or both at once. */
export const LISTENING = [...ENGINES, 'both'] as const;
export type Listening = (typeof LISTENING)[number];

/** What each way of listening is called on screen, and what it is like. */
export const TITLES: Readonly<Record<Listening, readonly [title: string, text: string]>> = {
  moonshine: ['Whole sentences', 'Hears a sentence out, then writes it down: exact, and a little later.'],
  vosk: ['As it is said', 'Writes while you speak and times every word; knows the words of its model alone.'],
  both: [
    'Both at once',
    'Ticks as you speak, settles by the whole sentence, and asks where the two disagree.',
  ],
};

/** The file of a package that an engine needs beside its model's: what the host calls the package's part, and the file's name. */
export const RUNS_ON: Readonly<Partial<Record<Engine, readonly [part: 'kaldi', name: string]>>> = {
  vosk: ['kaldi', 'vosk.js'],
};

/** The engines that a choice needs; of several, the one that settles the words comes first. */
export const enginesOf = (choice: Listening): readonly [Engine, ...Engine[]] =>
  choice === 'both' ? ['moonshine', 'vosk'] : [choice];

/** What listens until something else did better: it was made for people's voices, and can be had from a package registry. */
export const USUAL: Listening = 'moonshine';

/** How one choice did on this machine with the built-in narration. Times in seconds. */
export const TrialSchema = z.object({
  listening: z.enum(LISTENING),
  /** Engine and models, as records name them: another model makes the trial void. */
  name: z.string(),
  at: z.iso.datetime(),
  /** Steps whose credit was as a perfect recogniser's, of how many; false credits, and those of critical steps. */
  right: z.number().int(),
  of: z.number().int(),
  wrong: z.number().int(),
  wrongCritical: z.number().int(),
  /** Median time from the end of a step's words to its first tick, below 0 where it came before; null without any. */
  tick: z.number().nullable(),
  /** And to its settled credit. */
  settled: z.number().nullable(),
  /** Bytes in use with it open; null where the browser does not tell. */
  bytes: z.number().nullable(),
});
export type Trial = z.infer<typeof TrialSchema>;

/**
 * Seconds within which words must be settled for a choice to be the default: three more than the usual engine needs on a
 * machine that keeps up. Beyond, the machine falls behind and the coach answers after the next step.
 */
const KEEPS_UP = 5;

/** What listens unless the user wants otherwise, and why. */
export interface Best {
  readonly listening: Listening;
  /** The trial that it won; null where nothing was measured. */
  readonly trial: Trial | null;
}

/**
 * The choice that did best on this machine: never one that credits a critical step falsely or falls behind; then the most
 * steps right, false credits taken off; then the quicker tick.
 *
 * @param usable the choices whose models are here and meant for people's voices, with their names
 */
export function bestOf(trials: readonly Trial[], usable: ReadonlyMap<Listening, string>): Best {
  const score = ({ right, wrong }: Trial): number => right - wrong;
  const [trial = null] = trials
    .filter(({ listening, name }) => usable.get(listening) === name)
    .filter(({ wrongCritical, settled }) => wrongCritical === 0 && settled !== null && settled <= KEEPS_UP)
    .sort((a, b) => score(b) - score(a) || (a.tick ?? Infinity) - (b.tick ?? Infinity));
  return { listening: trial?.listening ?? USUAL, trial };
}
