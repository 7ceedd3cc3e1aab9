import type { Utterance } from '../language/utterance.ts';
import { piecesOf } from '../language/words.ts';

/**
 * The sentence being said at a moment in seconds, or the last one that had begun by then: whoever names a moment does so while or after
 * hearing it. Null before the first.
 */
export function saidAt(utterances: readonly Utterance[], moment: number): string | null {
  const begun = utterances.flatMap(sentencesOf).filter(({ start }) => start <= moment);
  return begun.sort((a, b) => a.start - b.start).at(-1)?.text ?? null;
}

function sentencesOf({ text, words, start }: Utterance): { readonly text: string; readonly start: number }[] {
  const pieces = piecesOf(text);
  const ends = pieces.flatMap((piece, i) => (/[.?!]["”']?$/.test(piece) ? [i + 1] : []));
  if (ends.at(-1) !== pieces.length) ends.push(pieces.length);
  return ends.map((end, i) => {
    const from = ends[i - 1] ?? 0;
    return { text: pieces.slice(from, end).join(' '), start: words[from]?.start ?? start };
  });
}
