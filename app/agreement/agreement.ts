import { z } from 'zod';
import { CAUTION } from '../marking/result.ts';
import { cohensKappa } from './kappa.ts';
import { findingOf, type Pair } from './pairs.ts';
import { suggestionsOf } from './suggestions.ts';

/** How far machine and persons agree over reviewed steps, as one document: what `sinkside agreement --json` prints. */

const count = z.number().int().nonnegative();

const TallySchema = z.strictObject({
  /** Steps with a yes or no of a person, and of them where the machine's mark says the same. */
  judged: count,
  bothYes: count,
  bothNo: count,
  /** The machine credits, the person does not: what must never be with a critical step. */
  falseCredits: count,
  /** The person says yes, the machine does not credit. */
  misses: count,
  /** Of the misses, those where the machine was unsure and so asked, or said out of order. */
  asked: count,
  /** The person could not tell: counted nowhere else. */
  open: count,
  /** Share on which both say the same, 0–1. */
  observed: z.number().nullable(),
  /** Cohen's kappa and its 95 % interval; null where it cannot be computed, and then `why`. */
  kappa: z.number().nullable(),
  interval: z.tuple([z.number(), z.number()]).nullable(),
  why: z.string(),
});
export type Tally = z.infer<typeof TallySchema>;

const ByStep = TallySchema.extend({
  skill: z.string(),
  step: z.string(),
  text: z.string(),
  critical: z.boolean(),
});

export const AgreementSchema = z.strictObject({
  schema: z.literal(1),
  /** How kappa and its interval come about. */
  method: z.string(),
  attempts: count,
  /** Of the steps judged, those where the machine's mark was hidden from the person until then. */
  blind: count,
  all: TallySchema,
  critical: TallySchema,
  bySkill: z.array(TallySchema.extend({ skill: z.string(), version: z.number().int().positive() })),
  byEngine: z.array(TallySchema.extend({ engine: z.string() })),
  byStep: z.array(ByStep),
  /** Cues with a false credit or miss first. `cue` is null where the meaning alone decided, or nothing was heard. */
  byCue: z.array(TallySchema.extend({ skill: z.string(), step: z.string(), cue: z.string().nullable() })),
  /** What trainees said for steps that the machine missed, for the skills' authors. */
  suggestions: z.array(
    z.strictObject({
      skill: z.string(),
      step: z.string(),
      said: z.string(),
      times: z.number().int().positive(),
    }),
  ),
  caution: z.string(),
});
export type Agreement = z.infer<typeof AgreementSchema>;

export const METHOD =
  "Cohen's kappa (1960) of credited or not; normal 95 % interval by the asymptotic standard error of Fleiss, Cohen and Everitt " +
  '(1969). It takes steps for independent; those of one attempt are not quite, so the true interval is wider. A reviewer who sees ' +
  'the mark before judging agrees with it more easily: compare only blind reviews where it matters. Where nearly every step is ' +
  'credited, kappa is low even with few differences: read it beside the counts.';

/** The document over all pairs. Pure. */
export function agreementOf(pairs: readonly Pair[]): Agreement {
  const judged = pairs.filter((pair) => findingOf(pair) !== 'open');
  return {
    schema: 1,
    method: METHOD,
    attempts: new Set(pairs.map(({ attempt }) => attempt)).size,
    blind: judged.filter(({ blind }) => blind).length,
    all: tally(pairs),
    critical: tally(pairs.filter(({ critical }) => critical)),
    bySkill: grouped(pairs, ({ skill, version }) => ({ skill, version })),
    byEngine: grouped(pairs, ({ engine }) => ({ engine })),
    byStep: worstFirst(
      grouped(pairs, ({ skill, step, text, critical }) => ({ skill, step, text, critical })),
    ),
    byCue: worstFirst(grouped(pairs, ({ skill, step, cue }) => ({ skill, step, cue }))),
    suggestions: suggestionsOf(pairs),
    caution: CAUTION,
  };
}

/** Counts the findings of some pairs. */
export function tally(pairs: readonly Pair[]): Tally {
  const findings = pairs.map(findingOf);
  const number = (finding: string): number => findings.filter((each) => each === finding).length;
  const [bothYes, bothNo] = [number('both yes'), number('both no')];
  const [falseCredits, misses] = [number('false credit'), number('miss')];
  const { n, observed, kappa, interval, why } = cohensKappa([
    [bothYes, falseCredits],
    [misses, bothNo],
  ]);
  return {
    judged: n,
    bothYes,
    bothNo,
    falseCredits,
    misses,
    asked: pairs.filter((pair, i) => findings[i] === 'miss' && pair.outcome !== 'not heard').length,
    open: number('open'),
    observed,
    kappa,
    interval: interval && [...interval],
    why: why ?? (interval ? '' : 'No interval: the two never differ, and the method gives no width there.'),
  };
}

/** A tally for each value of a key, in the order in which they first appear. */
function grouped<K extends object>(pairs: readonly Pair[], keyOf: (pair: Pair) => K): (Tally & K)[] {
  const groups = new Map<string, { key: K; own: Pair[] }>();
  for (const pair of pairs) {
    const key = keyOf(pair);
    const name = JSON.stringify(key);
    const group = groups.get(name) ?? { key, own: [] };
    group.own.push(pair);
    groups.set(name, group);
  }
  return [...groups.values()].map(({ key, own }) => ({ ...key, ...tally(own) }));
}

/** False credits weigh most, then misses: what a school should look at first stands first. */
const worstFirst = <T extends Tally>(tallies: readonly T[]): T[] =>
  [...tallies].sort((a, b) => b.falseCredits - a.falseCredits || b.misses - a.misses);
