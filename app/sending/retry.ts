/** The first wait after a failure, and the longest, ms. */
const FIRST_WAIT = 60_000;
const LONGEST_WAIT = 60 * 60_000;

/**
 * How long to wait after so many failures in a row, ms: twice as long each time, up to an hour, and up to a quarter more or less,
 * so that the stations of a school do not all come at once when its archive is back.
 *
 * @param failures 1 or more
 * @param random 0 to 1
 */
export function waitAfter(failures: number, random: number): number {
  const wait = Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** (failures - 1));
  return wait * (0.75 + random / 2);
}
