import { GATE, REWARD, type BiasState, type PhraseBias } from './bias.ts';
import { logTotal, pickRows, type EncodedSound, type SpeechModel } from './speechModel.ts';
import { END } from './tokens.ts';

/** A text found for a sound. */
export interface Hypothesis {
  readonly ids: readonly number[];
  /** Log-probability of the tokens and, where the text came to an end, of the end token; without any reward. */
  readonly logProbability: number;
  /** False when the search was cut off at the token limit: most often a loop. */
  readonly ended: boolean;
}

/** Hypotheses kept at each step. 4 costs half as much again as 1; 8 found no better text on the voices tried. */
const WIDTH = 4;

/** The likeliest next token, one after the other. Quick; good enough for text that will be overwritten soon. */
export async function greedy(model: SpeechModel, sound: EncodedSound): Promise<Hypothesis> {
  let logits = sound.first;
  let prefix = sound.prefix;
  let logProbability = 0;
  const ids: number[] = [];
  while (ids.length < model.tokenLimit(sound)) {
    const best = likeliest(logits, 1)[0]!; // there are always tokens
    logProbability += logits[best]! - logTotal(logits); // an id is an index
    if (best === END) return { ids, logProbability, ended: true };
    ids.push(best);
    ({ logits, prefix } = await model.step(sound, prefix, [best]));
  }
  return { ids, logProbability, ended: false };
}

interface Beam {
  readonly ids: readonly number[];
  readonly logProbability: number;
  readonly bias: BiasState;
  /** Row of the batch whose state it goes on from. */
  readonly row: number;
}

/**
 * Beam search for the text with the greatest log-probability plus {@link REWARD} for each token that a phrase of the
 * bias covers. Phrases in progress count as well, so that their beginnings survive until they are complete.
 */
export async function beamSearch(
  model: SpeechModel,
  sound: EncodedSound,
  bias: PhraseBias,
): Promise<Hypothesis> {
  const hopeful = (beam: Beam): number => beam.logProbability + REWARD * (beam.bias.covered + beam.bias.lent);
  const final = (beam: Beam): number => beam.logProbability + REWARD * beam.bias.covered;

  let beams: Beam[] = [{ ids: [], logProbability: 0, bias: bias.start, row: 0 }];
  let { first: logits, prefix } = sound;
  let best: Beam | null = null;
  for (let length = 0; length < model.tokenLimit(sound); length++) {
    const candidates: Beam[] = [];
    beams.forEach((beam, row) => {
      const own = logits.subarray(row * model.tokens.size, (row + 1) * model.tokens.size);
      const total = logTotal(own);
      const tried = new Set(likeliest(own, 2 * WIDTH));
      const logitOf = (token: number): number => own[token]!; // an id is an index
      const least = Math.max(...[...tried].map(logitOf)) - GATE;
      for (const token of bias.continuations(beam.bias)) if (logitOf(token) >= least) tried.add(token);
      for (const token of tried) {
        const logProbability = beam.logProbability + logitOf(token) - total;
        if (token === END) {
          const ended = { ...beam, logProbability };
          if (!best || final(ended) > final(best)) best = ended;
        } else {
          candidates.push({
            ids: [...beam.ids, token],
            logProbability,
            bias: bias.advance(beam.bias, token),
            row,
          });
        }
      }
    });
    beams = candidates.sort((a, b) => hopeful(b) - hopeful(a)).slice(0, WIDTH);
    // Probabilities only fall from here. A reward could still rise, but never by more than its words cost on real text.
    const [first] = beams;
    if (!first || (best && final(best) >= hopeful(first))) break;
    ({ logits, prefix } = await model.step(
      sound,
      pickRows(
        prefix,
        beams.map((beam) => beam.row),
      ),
      beams.map((beam) => beam.ids.at(-1)!), // each has taken a token
    ));
  }
  const found = best ?? beams.reduce((a, b) => (final(b) > final(a) ? b : a));
  return { ids: found.ids, logProbability: found.logProbability, ended: best !== null };
}

/** The ids of the `count` greatest logits, greatest first. */
function likeliest(logits: Float32Array, count: number): number[] {
  const top: number[] = [];
  let least = -Infinity;
  for (let id = 0; id < logits.length; id++) {
    const x = logits[id]!; // within
    if (top.length === count && x <= least) continue;
    let at = top.length;
    while (at > 0 && logits[top[at - 1]!]! < x) at--; // at − 1 is within
    top.splice(at, 0, id);
    if (top.length > count) top.pop();
    least = logits[top[top.length - 1]!]!; // one was just put in
  }
  return top;
}
