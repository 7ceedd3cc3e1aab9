/** Samples a second of all sound inside the program. */
export const SAMPLE_RATE = 16_000;
