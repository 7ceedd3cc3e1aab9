/**
 * Greatest sizes of a bundle, in bytes as unpacked, so that no file can fill up disk or memory of who takes it in. Two hours of sound
 * as a WAV file, the longest that is taken, are 230 MB.
 */
export const MOST_SOUND = 256 * 2 ** 20;
/** A journal grows by some 2 kB for each sentence: two hours of talk come to 10 MB. */
export const MOST_JOURNAL = 32 * 2 ** 20;
/** An attempt takes less than 1 kB of it. */
export const MOST_MANIFEST = 64 * 2 ** 20;
/** All of a bundle, and the file that holds it. A class of 30 with 20 packed rehearsals of 6 minutes each takes 3.5 GB. */
export const MOST_BUNDLE = 16 * 2 ** 30;
export const MOST_ATTEMPTS = 20_000;
export const MOST_SKILLS = 200;
/** Characters of a skill's file. */
export const MOST_SKILL = 2 ** 20;
