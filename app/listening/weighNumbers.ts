import { findNumbers, rivalsOf, spellings } from '../rehearsal/numbers.ts';
import type { SpokenNumber } from '../rehearsal/utterance.ts';
import type { EncodedSound, SpeechModel } from './speechModel.ts';
import { END } from './tokens.ts';

/** Words after a number that are scored with it: they tell where it ends. More change little and cost much. */
const WORDS_AFTER = 2;

/** Rivals with a smaller share are left out. */
const LEAST_SHARE = 0.01;

/**
 * Weighs every number of a text against those it is easily taken for: how likely is the sound's text with the other
 * number in its place, in digits and in words? Spellings of one value add up; values start out as equals.
 *
 * @param pieces the text's pieces between white space
 */
export async function weighNumbers(
  model: SpeechModel,
  sound: EncodedSound,
  pieces: readonly string[],
): Promise<SpokenNumber[]> {
  const weighed: SpokenNumber[] = [];
  for (const { value, from, to } of findNumbers(pieces)) {
    const before = model.tokens.encode(pieces.slice(0, from).join(' '));
    const start = await model.advance(sound, model.beginning(sound), from === 0 ? [] : before);
    const closed = to + WORDS_AFTER >= pieces.length;
    const candidates = [value, ...rivalsOf(value)];
    const texts = candidates.flatMap((candidate) =>
      replacements(pieces.slice(from, to), value, candidate).map((written) => {
        const opening = from === 0 ? written[0]!.toUpperCase() + written.slice(1) : written;
        const text = [opening, ...pieces.slice(to, to + WORDS_AFTER)].join(' ');
        return { candidate, ids: [...model.tokens.encode(text), ...(closed ? [END] : [])] };
      }),
    );
    const scores = await model.score(
      sound,
      start,
      texts.map(({ ids }) => ids),
    );
    const nats = scores.map((tokens) => tokens.reduce((sum, s) => sum + s, 0));
    const most = Math.max(...nats);
    const weights = new Map<number, number>();
    texts.forEach(({ candidate }, i) => {
      weights.set(candidate, (weights.get(candidate) ?? 0) + Math.exp(nats[i]! - most));
    });
    const total = [...weights.values()].reduce((sum, w) => sum + w, 0);
    const share = (candidate: number): number => weights.get(candidate)! / total;
    weighed.push({
      value,
      share: share(value),
      from,
      to,
      rivals: candidates
        .slice(1)
        .map((rival) => ({ value: rival, share: share(rival) }))
        .filter((rival) => rival.share >= LEAST_SHARE)
        .sort((a, b) => b.share - a.share),
    });
  }
  return weighed;
}

/** Texts with another value in the place of a number, the punctuation after it kept. */
function replacements(pieces: readonly string[], value: number, candidate: number): string[] {
  const whole = pieces.join(' ');
  const [, number = '', sign = ''] = /^(.*?)([.,;:?!]*)$/.exec(whole) ?? [];
  const digits = String(value);
  // Part of a word, as in "20-second" and "118/76": only the digits change.
  if (pieces.length === 1 && number !== digits && number.includes(digits))
    return [whole.replace(digits, String(candidate))];
  const spelled = Number.isInteger(candidate) ? spellings(candidate) : [];
  return [String(candidate), ...spelled].map((spelling) => spelling + sign);
}
