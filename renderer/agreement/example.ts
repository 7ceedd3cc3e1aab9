import { piecesOf, spellOut } from '../../app/language/words.ts';
import { nameOf, setField, viewOf } from '../editing/skillEdit.ts';

/** A saying as examples are written: its words alone, without marks or contractions. */
export const asExample = (said: string): string => piecesOf(said).flatMap(spellOut).join(' ');

/**
 * A skill file's text with a saying among the examples of a step, once.
 *
 * @returns null where the text has no such step, or cannot be read
 */
export function withExample(source: string, step: string, said: string): string | null {
  const steps = viewOf(source)?.steps ?? [];
  const at = steps.findIndex((each) => nameOf(each) === step);
  const cues = steps[at]?.cues;
  if (!cues) return null;
  const example = asExample(said);
  return cues.includes(example) ? source : setField(source, ['steps', at, 'cues'], [...cues, example]);
}
