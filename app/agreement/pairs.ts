import { tokenize, piecesOf } from '../language/words.ts';
import type { Outcome, StepMark } from '../marking/assessment.ts';
import type { State } from '../marking/state.ts';
import type { Review, Reviewed, Verdict } from '../review/review.ts';
import { isCredit } from '../marking/result.ts';
import { sideBySide } from '../review/sideBySide.ts';
import type { Checklist } from '../skills/checklist.ts';
import { UNSURE_FROM } from '../matching/claim.ts';
import { saidAt } from './saidAt.ts';

/** One step that machine and person both judged. */
export interface Pair {
  /** Id of the attempt. */
  readonly attempt: string;
  readonly skill: string;
  /** The version of the skill that the machine marked under. */
  readonly version: number;
  /** What listened, as records name it. */
  readonly engine: string;
  readonly step: string;
  readonly text: string;
  readonly critical: boolean;
  readonly outcome: Exclude<Outcome, 'needs eyes'>;
  /** Whether the machine credits the step by the rules. */
  readonly credited: boolean;
  readonly verdict: Verdict;
  readonly blind: boolean;
  /** The cue that the words are nearest to; null where the meaning alone decided, or nothing was heard. */
  readonly cue: string | null;
  /** What the trainee said for it, as it was recognised; null where nobody named the moment. */
  readonly said: string | null;
}

/** What a machine's mark and a person's verdict come to: `open` where the person could not tell. */
export type Finding = 'both yes' | 'both no' | 'false credit' | 'miss' | 'open';

export function findingOf({ credited, verdict }: Pick<Pair, 'credited' | 'verdict'>): Finding {
  if (verdict === 'unsure') return 'open';
  if (credited) return verdict === 'yes' ? 'both yes' : 'false credit';
  return verdict === 'yes' ? 'miss' : 'both no';
}

/** The steps of one reviewed skill on which machine and person can be compared. Those that need eyes the machine leaves to the person. */
export function pairsOf(
  about: Pick<Pair, 'attempt' | 'engine'>,
  checklist: Checklist,
  state: State,
  review: Review,
): Pair[] {
  return sideBySide(checklist, state, review).flatMap(({ mark, verdict }): Pair[] => {
    if (!mark || !verdict || mark.outcome === 'needs eyes') return [];
    const { outcome } = mark;
    return [
      {
        ...about,
        skill: checklist.skill.id,
        version: checklist.skill.version,
        step: mark.id,
        text: mark.text,
        critical: mark.critical,
        outcome,
        credited: isCredit(mark, checklist.rules),
        verdict: verdict.verdict,
        blind: verdict.blind,
        cue: cueOf(checklist, mark),
        said: saidFor(mark, verdict, state),
      },
    ];
  });
}

/** What was said: the sentence at the moment that the person named, else the words that the mark rests on. */
const saidFor = ({ evidence }: StepMark, { heardAt }: Reviewed, { utterances }: State): string | null =>
  (heardAt === null ? null : saidAt(utterances, heardAt)) ?? evidence?.text ?? null;

function cueOf(checklist: Checklist, { id, evidence }: StepMark): string | null {
  if (!evidence) return null;
  const [best] = checklist.matcher
    .nearest(tokenize(piecesOf(evidence.text)))
    .filter(({ target, score }) => checklist.roles.get(target)?.step.id === id && score >= UNSURE_FROM)
    .sort((a, b) => b.score - a.score);
  return best?.cue ?? null;
}
