import { piecesOf, tokenize } from '../language/words.ts';
import { findingOf, type Pair } from './pairs.ts';

/** What a trainee said, as it was recognised, for a step that the machine missed and a person said yes to: an example saying for the skill's author. */
export interface Suggestion {
  readonly skill: string;
  readonly step: string;
  readonly said: string;
  /** In how many misses it was said, in whatever spelling. */
  readonly times: number;
}

/** Sayings to offer to the editor, the most frequent first. It stays with a person whether one becomes a cue. */
export function suggestionsOf(pairs: readonly Pair[]): Suggestion[] {
  const found = new Map<string, Suggestion>();
  for (const pair of pairs) {
    const { skill, step, said } = pair;
    if (findingOf(pair) !== 'miss' || said === null) continue;
    const words = tokenize(piecesOf(said)).map(({ word }) => word);
    if (words.length === 0) continue;
    const key = JSON.stringify([skill, step, words]);
    const known = found.get(key);
    found.set(key, { skill, step, said: known?.said ?? said, times: (known?.times ?? 0) + 1 });
  }
  return [...found.values()].sort((a, b) => b.times - a.times);
}
