import { readFileSync } from 'node:fs';
import { parse } from 'yaml';
import { z } from 'zod';
import { BEFORE, fold, type State } from '../../../app/marking/state.ts';
import { interpret } from '../../../app/interpreting/interpret.ts';
import type { Checklist } from '../../../app/skills/checklist.ts';
import { heardClearly, type Utterance } from '../../../app/language/utterance.ts';
import { judged } from '../../written/judging.ts';
import { utterance } from '../making/narrate.ts';

/**
 * Sayings that have a step's words and must credit nothing, and corrections that must put a slip right, written without sight of the
 * cues. Those at even places of a list are for tuning; those at odd places are looked at only to report.
 */

/** `other`: another person, another day, the right words about the wrong thing, or only in passing. */
const KINDS = ['postponed', 'hypothetical', 'general', 'asked', 'denied', 'other'] as const;
const lines = z.array(z.string());
const TrapsSchema = z.object({ asides: lines.optional() }).catchall(z.partialRecord(z.enum(KINDS), lines));

export interface Trap {
  readonly skill: string;
  readonly kind: (typeof KINDS)[number] | 'aside';
  readonly says: string;
  readonly heldOut: boolean;
}

const read = (name: string): unknown => parse(readFileSync(new URL(name, import.meta.url), 'utf8'));

/** Files whose odd places are held out; those that came later are for tuning as a whole. */
const FILES = {
  'traps-a.yaml': true,
  'traps-b.yaml': true,
  'traps-c.yaml': false,
  'traps-d.yaml': false,
  'traps-e.yaml': false,
};

export const TRAPS: readonly Trap[] = Object.entries(FILES).flatMap(([file, isSplit]) => {
  const { asides = [], ...skills } = TrapsSchema.parse(read(file));
  const trap = (skill: string, kind: Trap['kind'], says: string, i: number): Trap => ({
    skill,
    kind,
    says,
    heldOut: isSplit && i % 2 === 1,
  });
  return [
    ...asides.map((says, i) => trap('hand-washing', 'aside', says, i)),
    ...Object.entries(skills).flatMap(([skill, kinds]) =>
      KINDS.flatMap((kind) => (kinds[kind] ?? []).map((says, i) => trap(skill, kind, says, i))),
    ),
  ];
});

const CorrectionSchema = z.strictObject({
  skill: z.string(),
  step: z.string(),
  says: z.string(),
  /** Said after "I want to correct something". */
  after: z.boolean().default(false),
  /** A critical step that is only told: it is asked about. */
  told: z.boolean().default(false),
});
export const CORRECTIONS = z
  .array(CorrectionSchema)
  .parse(read('corrections.yaml'))
  .map((correction, i) => ({ ...correction, heldOut: i % 2 === 1 }));
export type Correction = (typeof CORRECTIONS)[number];

/** What is said, with the words before it that open a correction. */
export const saidIn = ({ after, says }: Correction): Utterance[] => [
  ...(after ? [heardClearly(899, 'I want to correct something.', 50)] : []),
  utterance(says, 60, 900),
];

/** The steps that a saying credits, starts or counts, by the rules and the learned judge together. */
export async function creditedBy(
  checklist: Checklist,
  says: string,
  state: State = BEFORE,
): Promise<string[]> {
  const [said] = await judged([utterance(says, 60, 900)], checklist);
  return interpret(checklist, state, said!).flatMap((e) =>
    e.type === 'credited' ||
    (e.type === 'clock' && e.move === 'start') ||
    (e.type === 'movement' && (e.form === 'full' || e.form === 'short')) ||
    // A number that is asked about is none.
    (e.type === 'reading' && e.why === null)
      ? [e.step]
      : [],
  );
}

/** The state of a rehearsal in which all other steps have been said. */
export const withoutStep = (checklist: Checklist, step: string): State =>
  saidIf(checklist, (id) => id !== step);

/** Two states of a rehearsal, in which each step's neighbours have been said: the second, fourth … step, or the others. */
export const amid = (checklist: Checklist): State[] =>
  [0, 1].map((odd) => saidIf(checklist, (_, at) => at % 2 === odd));

function saidIf({ steps }: Checklist, isSaid: (id: string, at: number) => boolean): State {
  return steps
    .filter(
      ({ id, evidence }, at) => isSaid(id, at) && (evidence.kind === 'said' || evidence.kind === 'reading'),
    )
    .reduce<State>((state, { id }, i) => {
      const evidence = { utterance: i, text: id, start: i, end: i + 0.5, score: 1 };
      return fold(state, { type: 'credited', step: id, evidence });
    }, BEFORE);
}
