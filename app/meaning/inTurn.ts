import type { Utterance } from '../language/utterance.ts';
import type { Judge } from './judge.ts';

/** Words that are remembered; the judge reads no more of what was said before. */
const REMEMBERED = 24;

/**
 * Has the judge read utterances as they follow each other, each after what was said before it. One that still goes on (`isWhole` is
 * false) is read, and not remembered.
 */
export function inTurn(
  judge: Pick<Judge, 'judge'>,
): (utterance: Utterance, isWhole?: boolean) => Promise<Utterance> {
  let before = '';
  return async (utterance, isWhole = true) => {
    const judged = await judge.judge(utterance, before);
    if (isWhole) before = `${before} ${utterance.text}`.split(/\s+/).slice(-REMEMBERED).join(' ').trim();
    return judged;
  };
}
