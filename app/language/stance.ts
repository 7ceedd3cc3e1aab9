/**
 * How something was said. What is `asserted` is said as done or as being done; `begun` and `told` count as the rules say
 * ({@link mannerOf}); the others are the ways in which a trainee can speak a step's words without doing it.
 */
export const STANCES = [
  'asserted',
  'begun', // "I'm going to rinse", "let me…", "next I'll…": said as it begins
  'told', // "here I would clean my hands"; in a correction "I should have…", "I forgot to…"
  'postponed', // "later", "in a minute", "when we're finished I'll…"
  'hypothetical', // "if this were a pedal tap I would…"
  'general', // "normally you would…", "they want you to…", "I should…"
  'asked', // "should I…?"
  'denied', // "I forgot to…", "I have not…"
  'mentioned', // "before I rinse…"
  'reported', // "my teacher says to…", "she washed her hands", "yesterday I…"
  'addressed', // "did you…?", "close the curtain, please"
  'doubted', // "maybe I…"
] as const;
export type Stance = (typeof STANCES)[number];

/** How a step that counts was said: as done, as it begins, or as what one would do. */
export const MANNERS = ['done', 'begun', 'told'] as const;
export type Manner = (typeof MANNERS)[number];

/** The manner in which a stance says a step; null where it says none. */
export function mannerOf(stance: Stance): Manner | null {
  if (stance === 'asserted') return 'done';
  return stance === 'begun' || stance === 'told' ? stance : null;
}
