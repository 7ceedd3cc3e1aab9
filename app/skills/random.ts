/** Numbers from 0 up to and without 1. */
export type Random = () => number;

/**
 * A source of random numbers that gives the same ones for the same seed: sfc32 of the PractRand suite (Chris Doty-Humphrey),
 * the seed mixed in over twelve rounds as its author does.
 *
 * @param seed a whole number; its lowest 32 bits count
 */
export function randomFrom(seed: number): Random {
  let [a, b, c, counter] = [0, seed | 0, 0, 1];
  const next = (): number => {
    const sum = (a + b + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + sum) | 0;
    return (sum >>> 0) / 2 ** 32;
  };
  for (let round = 0; round < 12; round++) next();
  return next;
}
