import { describe, expect, it } from 'vitest';
import { directionOf, goesAgainst } from './direction.ts';
import { piecesOf, tokenize } from './words.ts';

const against = (said: string, step: string): boolean =>
  goesAgainst(tokenize(piecesOf(said)), directionOf(step));

describe('from where to where', () => {
  it.each([
    ['I wipe from back to front.', 'Wipe from front to back'],
    ['I rinse from my fingertips to my wrists.', 'Rinse from the wrists towards the fingertips'],
    ['I wipe the tube from the bag towards the body.', 'Wipe along the tube away from the body'],
    ['I shave against the direction of the growth.', 'Shave in the direction of the hair growth'],
    ['Combing from the roots to the ends.', 'Comb the hair from the ends up'],
  ])('%s goes against: %s', (said, step) => expect(against(said, step)).toBe(true));

  it.each([
    ['I wipe from front to back.', 'Wipe from front to back'],
    ['Front to back, never from back to front.', 'Wipe from front to back'],
    ['From the front to the back, and never back to the front.', 'Wipe from front to back'],
    ['I rinse down from the wrists.', 'Rinse from the wrists towards the fingertips'],
    ['I let the water run to my fingertips.', 'Rinse from the wrists towards the fingertips'],
    [
      'I rinse the soap down to the fingertips, then I dry from the fingertips up.',
      'Rinse from the wrists towards the fingertips',
    ],
    ['I pull the curtain back.', 'Wipe from front to back'],
    ['I walk from the door to the sink.', 'Wet your hands'],
  ])('%s does not go against: %s', (said, step) => expect(against(said, step)).toBe(false));
});
