import { rivalsOf, teenTwin } from '../language/numberRivals.ts';
import { findNumbers, spellings, type FoundNumber } from '../language/numbers.ts';
import type { SpokenNumber } from '../language/utterance.ts';
import { capitalised, piecesOf } from '../language/words.ts';
import { beamSearch } from './beamSearch.ts';
import type { PhraseBias } from './bias.ts';
import type { EncodedSound, SpeechModel } from './speechModel.ts';

/**
 * Speeds at which the sound is heard again. The model is as sure of a wrong number as of a right one, but seldom wrong in
 * the same way at another speed. On 190 numbers of four synthetic voices, clean and beside a tap at 10 dB, 8 of 9 and 24
 * of 38 wrong ones looked sure after one hearing, 3 and 5 after three. The price: of the right ones 91 % and 80 % looked
 * sure after one hearing, 72 % and 36 % after three; the others are asked about.
 */
const SPEEDS = [0.87, 1.15];

/**
 * What the share of a teen's ten, and of a ten's teen, counts for. The model underrates them: where it wrote the wrong one
 * of the two (nine times in some 320 numbers of synthetic voices), the right one had a share of 0.0099–0.41. At 12 all
 * nine are asked about, and so are 51 of 107 right ones, 24 of which would be anyway; at 5, eight, and 38.
 */
const TWIN_DOUBT = 12;

/** Words after a number that are scored with it: they tell where it ends. More change little and cost much. */
const WORDS_AFTER = 2;

/** Rivals with a smaller share are left out. */
const LEAST_SHARE = 0.01;

/** Numbers up to here are counts and pronouns ("this one") far more often than readings: heard once, to save the time. */
const SMALL = 3;

/** Candidates that are weighed in further hearings: the best of the first. Those below never came up again. */
const HEARD_AGAIN = 8;

/** A sound as it was heard at one speed, and the numbers of the text it gave. */
interface Hearing {
  readonly sound: EncodedSound;
  readonly values: readonly number[];
}

/**
 * Weighs every number of a text against those it is easily taken for. Each hearing of the sound, at its own and at other
 * speeds, gives every candidate a share by how likely the text is with that number in its place, in digits and in words;
 * a candidate keeps the greatest it has in any hearing. Then the hearings vote: a number that only some of them have in
 * their own text loses the others' part of its share to the numbers they have instead.
 *
 * @param samples the sound, mono at 16 kHz; `sound` is the same encoded
 * @param pieces the text's pieces between white space; `bias` is what it was found with
 */
export async function weighNumbers(
  model: SpeechModel,
  samples: Float32Array,
  sound: EncodedSound,
  pieces: readonly string[],
  bias: PhraseBias,
): Promise<SpokenNumber[]> {
  const numbers = findNumbers(pieces);
  if (numbers.length === 0) return [];
  const inText = numbers.map(({ value }) => value);
  const hearings: Hearing[] = [{ sound, values: inText }];
  for (const speed of Math.max(...inText) > SMALL ? SPEEDS : []) {
    const again = await model.encode(atSpeed(samples, speed));
    const text = model.tokens.decode((await beamSearch(model, again, bias)).ids);
    hearings.push({ sound: again, values: findNumbers(piecesOf(text)).map(({ value }) => value) });
  }

  const weighed: SpokenNumber[] = [];
  for (const number of numbers) {
    let candidates = candidatesOf(pieces, number);
    const greatest = new Map<number, number>();
    for (const { sound: heard } of hearings) {
      for (const [value, share] of await sharesOf(model, heard, pieces, number, candidates))
        greatest.set(value, Math.max(greatest.get(value) ?? 0, share));
      const best = [...greatest].sort(([, a], [, b]) => b - a).slice(0, HEARD_AGAIN);
      const kept = new Set([number.value, ...best.map(([value]) => value)]);
      candidates = candidates.filter(({ value }) => kept.has(value));
    }
    const twin = teenTwin(number.value);
    if (twin !== null) greatest.set(twin, Math.min(1, TWIN_DOUBT * (greatest.get(twin) ?? 0)));
    const total = [...greatest.values()].reduce((sum, share) => sum + share, 0);
    const shares = new Map([...greatest].map(([value, share]) => [value, share / total]));
    const against = hearings.filter(({ values }) => !values.includes(number.value));
    const kept = 1 - against.length / hearings.length;
    for (const [value, share] of shares) shares.set(value, share * kept);
    for (const { values } of against) {
      const instead = values.filter((value) => !inText.includes(value));
      for (const value of instead)
        shares.set(value, (shares.get(value) ?? 0) + 1 / hearings.length / instead.length);
    }
    weighed.push({
      ...number,
      share: shares.get(number.value) ?? 0,
      rivals: [...shares]
        .map(([value, share]) => ({ value, share }))
        .filter(({ value, share }) => value !== number.value && share >= LEAST_SHARE)
        .sort((a, b) => b.share - a.share),
    });
  }
  return weighed;
}

/** Shares of the candidates in one hearing; they add up to 1. */
async function sharesOf(
  model: SpeechModel,
  sound: EncodedSound,
  pieces: readonly string[],
  { from, to }: FoundNumber,
  candidates: readonly Candidate[],
): Promise<Map<number, number>> {
  const start = await model.after(sound, pieces.slice(0, from));
  const last = Math.min(pieces.length, to + WORDS_AFTER);
  const tails = candidates.map(({ written, next }) =>
    [from === 0 ? capitalised(written) : written, ...pieces.slice(next, last)].join(' '),
  );
  const nats = await model.weigh(sound, start, tails, last === pieces.length);
  const most = Math.max(...nats);
  const weights = new Map<number, number>();
  candidates.forEach(({ value }, i) =>
    weights.set(value, (weights.get(value) ?? 0) + Math.exp((nats[i] ?? -Infinity) - most)),
  );
  const total = [...weights.values()].reduce((sum, weight) => sum + weight, 0);
  return new Map([...weights].map(([value, weight]) => [value, weight / total]));
}

/** A way to write the place of a number, and the piece the text goes on with. */
interface Candidate {
  readonly value: number;
  readonly written: string;
  readonly next: number;
}

function candidatesOf(pieces: readonly string[], { value, from, to }: FoundNumber): Candidate[] {
  const text = pieces.slice(from, to).join(' ');
  const [, number = '', sign = ''] = /^(.*?)([.,;:?!]*)$/.exec(text) ?? [];
  const digits = String(value);
  const values = [value, ...rivalsOf(value)];
  // Part of a word, as in "20-second" and "118/76": only the digits change.
  if (to - from === 1 && number !== digits && number.includes(digits)) {
    return values.map((v) => ({ value: v, written: text.replace(digits, String(v)), next: to }));
  }
  const candidates: Candidate[] = [{ value, written: text, next: to }];
  // Rivals are written in digits and as the number is: "hundred and" and "one eighteen" are ways of writing.
  const [, words = '', fraction = ''] = FRACTION.exec(number.toLowerCase()) ?? [];
  const form = Math.max(0, spellings(Math.floor(value)).indexOf(words));
  const whole = (v: number): string => spellings(v)[form] ?? spellings(v)[0] ?? String(v);
  const isSameFraction = (v: number): boolean => Math.abs((v % 1) - (value % 1)) < 0.001;
  const spelled = (v: number): string => {
    if (Number.isInteger(v)) return whole(v);
    return fraction !== '' && isSameFraction(v) ? whole(Math.floor(v)) + fraction : String(v);
  };
  for (const v of values) {
    for (const written of new Set([String(v), spelled(v)])) {
      if (written !== number) candidates.push({ value: v, written: written + sign, next: to });
    }
  }
  // "One hundred aching" was "one hundred eighteen": the rest of a round number may be lost in the next word.
  const next = pieces[to];
  if (next === undefined || sign !== '' || findNumbers([next]).length > 0) return candidates;
  const [, nextSign = ''] = /([.,;:?!]*)$/.exec(next) ?? [];
  for (const rest of restsOf(value)) {
    const written = (number === digits ? String(value + rest) : spelled(value + rest)) + nextSign;
    candidates.push({ value: value + rest, written, next: to + 1 });
  }
  return candidates;
}

/** A number in words, and the fraction behind it. */
const FRACTION = /^(.*?)( point .*| and (?:an? |one |three )?(?:half|quarters?))?$/;

/** What may follow a round number within one word: units after tens; units, teens and tens after hundreds. */
function restsOf(value: number): number[] {
  const upTo = (n: number): number[] => Array.from({ length: n }, (_, i) => i + 1);
  if (value <= 0 || value > 9900 || value % 10 !== 0 || value === 10) return [];
  return value % 100 === 0 ? [...upTo(19), ...upTo(8).map((tens) => 10 + 10 * tens)] : upTo(9);
}

/** The sound played faster (above 1) or slower, its pitch with it. Linear interpolation is good enough to be heard by. */
function atSpeed(samples: Float32Array, speed: number): Float32Array {
  return Float32Array.from({ length: Math.floor(samples.length / speed) }, (_, i) => {
    const at = Math.floor(i * speed);
    const part = i * speed - at;
    return (samples[at] ?? 0) * (1 - part) + (samples[at + 1] ?? 0) * part;
  });
}
