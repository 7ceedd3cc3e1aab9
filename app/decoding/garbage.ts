/** Repetitions of a run of words that are a loop when the text never came to an end, and when it did. */
const LOOP_UNENDED = 3;
const LOOP_ENDED = 6;

/** Longest run of words looked at. */
const LONGEST_RUN = 8;

/**
 * Where a text begins to repeat itself as a decoder does that has lost the sound: the piece after the first
 * occurrence of a run of words that follows upon itself over and over. Null when it does not. People repeat themselves
 * too ("up and down, up and down"), but come to an end.
 *
 * @param ended whether the decoder ended the text by itself
 */
export function loopStart(pieces: readonly string[], ended: boolean): number | null {
  const words = pieces.map((piece) => piece.toLowerCase().replace(/[^\p{L}\p{N}]/gu, ''));
  const least = ended ? LOOP_ENDED : LOOP_UNENDED;
  for (let from = 0; from < words.length; from++) {
    for (let run = 1; run <= LONGEST_RUN && from + run * least <= words.length; run++) {
      let same = run;
      while (words[from + same] === words[from + same - run] && from + same < words.length) same++;
      if (same >= run * least) return from + run;
    }
  }
  return null;
}

/**
 * Nats a token by which a text must be likelier under its sound than under silence. Over tap noise at 40, 5 and 0 dB what
 * three synthetic voices said and was understood at least in part scored 2.1–5.5; what was made up from noise, hums,
 * clapping or drowned speech ("You", "I'm going to put it on and I'm going to put it on…") at most 0.6, save for two
 * harmless cries on a whistle. Between lie made-up sentences on drowned speech, up to 1.5.
 */
export const LEAST_EVIDENCE = 1.5;
