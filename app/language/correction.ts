import type { Token } from './words.ts';

/**
 * How people say that they put a slip right: "let me correct that", "a correction", "I left something out". Matched against
 * an utterance's words joined by single spaces, with a space at both ends. "Going back to scrubbing" and "the name is
 * correct" are none.
 */
const OPENERS: readonly RegExp[] = [
  / (?:let me|let us|i (?:just )?(?:want|need|have|would like|am going|will go back|go back) to|i will|can i|may i|and) (?:just |quickly |go back and |go ahead and |please )*(?:correct|fix|redo|amend) (?:that|this|it|one|a|an|my|myself|something|the (?:step|mistake|slip|order))/,
  / (?:make|made|have|got|need|want|one|a|as a|my|small|quick|little) (?:[a-z]+ )?correction /,
  /^ (?:(?:oh|okay|so|and|wait|sorry|um) )*correction /,
  / (?:scratch|strike) that | take (?:that|it|this)(?: one)? (?:back|again) | (?:let me|i (?:need|want|have) to|i will) (?:just )?(?:back up|rewind) /,
  / (?:let me|i (?:need|want|have) to|i am|i will|can i|am i|we are)? ?(?:just )?(?:go|going) back(?! (?:to|and forth|up|in|over|on) )(?: for| a| and| i| because| real| quick| one| there| now| here)/,
  / i (?:just )?(?:left|missed|skipped|forgot|omitted|dropped) (?:(?:to|out) )?(?:something|one thing|a thing|one|a step|one step|a bit|that one|a part) /,
  / i (?:have |had )?(?:left|leaving) (?:something |one thing |a step |one |it |that )?out /,
  / i made a (?:mistake|slip)| my mistake /,
]; // prettier-ignore

/** How a slip is owned up to, without a word that it is being put right. */
const ADMISSIONS: readonly RegExp[] = [
  / (?:i|we) (?:[a-z]+ly |also |just )?(?:should|would) have (?!to )/,
  / i (?:never|did not|have not) /,
  / i (?:just )?(?:forgot|missed|skipped|omitted|left out) /,
];

const found = (patterns: readonly RegExp[], tokens: readonly Token[]): boolean => {
  const text = ` ${tokens.map(({ word }) => word).join(' ')} `;
  return patterns.some((pattern) => pattern.test(text));
};

/** Whether an utterance says that it puts a slip right. */
export const corrects = (tokens: readonly Token[]): boolean => found(OPENERS, tokens);

/** Whether an utterance owns up to a slip; what it says besides may put it right. */
export const admits = (tokens: readonly Token[]): boolean => found(ADMISSIONS, tokens);
