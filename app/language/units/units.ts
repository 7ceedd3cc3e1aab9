/** Units as they are said after a number, and what a value in one of them is in another. */

/** 1 US fluid ounce in millilitres: NIST Special Publication 811, Appendix B.8. */
export const ML_PER_FLUID_OUNCE = 29.57353;
/** 1 pound in kilograms, exactly: NIST Special Publication 811, Appendix B.8. */
export const KILOGRAMS_PER_POUND = 0.45359237;
/** Ounces in a pound: NIST Handbook 44, Appendix C. */
const OUNCES_PER_POUND = 16;

/** What is measured. A rate "a minute" may be of breaths or of beats. */
type Quantity = 'breathing' | 'pulse' | 'pressure' | 'volume' | 'weight' | 'time' | 'angle' | 'temperature';

/** A unit with its size in the quantity's own: millilitres, kilograms, seconds. */
interface Size {
  readonly quantity: Quantity;
  readonly size: number;
}

/** Each unit by the name that skill files use; an ounce is of volume or of weight. */
const SIZES: Readonly<Record<string, readonly Size[]>> = {
  'breaths a minute': [{ quantity: 'breathing', size: 1 }],
  'beats a minute': [{ quantity: 'pulse', size: 1 }],
  'times a minute': [
    { quantity: 'breathing', size: 1 },
    { quantity: 'pulse', size: 1 },
  ],
  mmHg: [{ quantity: 'pressure', size: 1 }],
  millilitres: [{ quantity: 'volume', size: 1 }],
  litres: [{ quantity: 'volume', size: 1000 }],
  ounces: [
    { quantity: 'volume', size: ML_PER_FLUID_OUNCE },
    { quantity: 'weight', size: KILOGRAMS_PER_POUND / OUNCES_PER_POUND },
  ],
  pounds: [{ quantity: 'weight', size: KILOGRAMS_PER_POUND }],
  kilograms: [{ quantity: 'weight', size: 1 }],
  grams: [{ quantity: 'weight', size: 0.001 }],
  seconds: [{ quantity: 'time', size: 1 }],
  minutes: [{ quantity: 'time', size: 60 }],
  hours: [{ quantity: 'time', size: 3600 }],
  degrees: [
    { quantity: 'angle', size: 1 },
    { quantity: 'temperature', size: 1 },
  ],
};

/** How each is said, as lower-case words; the longer first. What stands in brackets is said or not. */
const SAID: readonly (readonly [pattern: RegExp, unit: string])[] = [
  [
    /^(?:breaths?|respirations?|breaths? taken)(?: (?:a|per|in a|in one|each) minute)?(?= |$)/,
    'breaths a minute',
  ],
  [/^(?:heart ?beats?|beats?|pulses?)(?: (?:a|per|in a|in one|each) minute)?(?= |$)/, 'beats a minute'],
  [/^bpm(?= |$)/, 'beats a minute'],
  [/^(?:times )?(?:a|per|in a|in one|each) minute(?= |$)/, 'times a minute'],
  [/^(?:mm ?hg|milli ?met(?:er|re)s?(?: of mercury)?|points? of mercury)(?= |$)/, 'mmHg'],
  [/^(?:mls?|milli ?lit(?:er|re)s?|mils?|ccs?|c c|cubic centimet(?:er|re)s?)(?= |$)/, 'millilitres'],
  [/^lit(?:er|re)s?(?= |$)/, 'litres'],
  [/^(?:fluid )?(?:ounces?|oz)(?= |$)/, 'ounces'],
  [/^(?:pounds?|lbs?)(?= |$)/, 'pounds'],
  [/^(?:kilo(?:gram|gramme)?s?|kgs?)(?= |$)/, 'kilograms'],
  [/^(?:grams?|grammes?)(?= |$)/, 'grams'],
  [/^(?:seconds?|secs?)(?= |$)/, 'seconds'],
  [/^(?:minutes?|mins?)(?= |$)/, 'minutes'],
  [/^hours?(?= |$)/, 'hours'],
  [/^degrees?(?= |$)/, 'degrees'],
];

/** A unit in a run of words, and how many of the words it takes. */
export interface SaidUnit {
  readonly unit: string;
  readonly words: number;
}

/**
 * The unit that some words begin with; null where they begin with none.
 *
 * @param words lower case, without punctuation, as behind a number
 * @param own a unit to be known besides: that of a school's skill
 */
export function unitAt(words: readonly string[], own = ''): SaidUnit | null {
  const text = words.slice(0, 5).join(' ');
  for (const [pattern, unit] of SAID) {
    const [said] = pattern.exec(text) ?? [];
    if (said !== undefined) return { unit, words: said.split(' ').length };
  }
  const isOwn = own !== '' && `${text} `.startsWith(`${own.toLowerCase()} `);
  return isOwn ? { unit: own, words: own.split(' ').length } : null;
}

/** The name of a unit that a school may write otherwise ("kg"); itself where it is not known. */
export function unitNamed(text: string): string {
  const words = text.toLowerCase().split(' ');
  const found = unitAt(words);
  return found?.words === words.length ? found.unit : text;
}

/**
 * A value in another unit of the same quantity; the value itself where both are one. Null where they measure different things, or
 * one of them is not known. Rounded to a whole millilitre, else to a tenth.
 */
export function converted(value: number, from: string, to: string): number | null {
  if (from === to) return value;
  const sizes = (unit: string): readonly Size[] => SIZES[unitNamed(unit)] ?? [];
  for (const { quantity, size } of sizes(from)) {
    const wanted = sizes(to).find((each) => each.quantity === quantity);
    if (wanted?.size === size) return value;
    if (wanted) return roundedTo(unitNamed(to) === 'millilitres' ? 1 : 0.1, (value * size) / wanted.size);
  }
  return null;
}

/** Whether a unit is one of time. */
export const isTime = (unit: string): boolean => SIZES[unitNamed(unit)]?.[0]?.quantity === 'time';

const roundedTo = (step: number, value: number): number => {
  const inverse = Math.round(1 / step);
  return Math.round(value * inverse) / inverse;
};
