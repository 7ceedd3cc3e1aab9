import { assessTranscript } from '../../app/listening/assess.ts';
import type { Assessment } from '../../app/marking/assessment.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import { heardClearly } from '../../app/language/utterance.ts';
import { judgeOf, keep } from './judging.ts';
import type { Narration } from '../speech/narration.ts';
import { place, type Truth } from '../speech/place.ts';
import { expectedMarks, rates, scoreCredits, type CreditScore } from '../speech/bench/score.ts';

/** A narration marked from its text, as if it had been heard perfectly: what the program makes of an exact transcript. */
export interface Written {
  readonly narration: Narration;
  readonly truth: Truth;
  readonly assessment: Assessment;
  readonly credits: CreditScore;
}

/** Seconds a word takes: as quick as the quickest of the test voices, or talk would overrun the times that narrations fill. */
const WORD = 0.3;

/** @param checklist of the narration's skill and variants */
export async function markWritten(narration: Narration, checklist: Checklist): Promise<Written> {
  const takes = narration.lines.map(({ say }) => WORD * say.split(/\s+/).length);
  const { gaps, ...truth } = place(narration, takes);
  const utterances = truth.lines.map(({ say, start, end }, id) => heardClearly(id, say, start, end));
  const seconds = utterances.at(-1)!.end + gaps.at(-1)!;
  const assessment = await assessTranscript(
    { utterances, seconds, warnings: [] },
    { checklist, engine: 'transcript', clock: () => 0 },
    judgeOf(checklist),
  );
  keep();
  const credits = scoreCredits(assessment.steps, expectedMarks(checklist.steps, truth), truth.lines);
  return { narration, truth, assessment, credits };
}

/** How well narrations were marked, all together: precision, recall, and what was credited falsely. */
export function scored(of: readonly Written[]) {
  const hits = of.flatMap(({ credits }) => credits.hits);
  const missed = of.flatMap(({ credits }) => credits.missed);
  const wrong = of.flatMap(({ credits }) => credits.wrong);
  return {
    ...rates(hits.length, missed.length, wrong.length),
    wrong,
    critical: wrong.filter(({ critical }) => critical),
  };
}
