import { spellings } from '../../../app/language/numbers.ts';
import { randomFrom, seedOf } from '../noise.ts';

/** What trainees say when they read something off: our own sentences, each with the numbers it says. */

export interface Form {
  readonly id: string;
  readonly skill: string;
  readonly variants: Readonly<Record<string, string>>;
  readonly text: string;
  /** The numbers by step, in the step's unit. */
  readonly truth: Readonly<Record<string, number>>;
  /** Whether it answers the coach, who has read back another number. */
  readonly isAnswer: boolean;
  /** Held-out forms are not looked at while the program is changed. */
  readonly split: 'dev' | 'held-out';
}

type Random = () => number;

const pick = <T>(random: Random, list: readonly T[]): T => {
  const item = list[Math.floor(random() * list.length)];
  if (item === undefined) throw new RangeError('There is nothing to pick from.');
  return item;
};

const whole = (random: Random, from: number, to: number): number =>
  from + Math.floor(random() * (to - from + 1));

const inWords = (random: Random, value: number): string => pick(random, spellings(value));

const sentence = (text: string): string => `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;

interface Kind {
  readonly name: string;
  readonly skill: string;
  readonly variants?: Readonly<Record<string, string>>;
  readonly count: number;
  readonly frames: readonly string[];
  /** What stands for "{}" in a frame, and the numbers that it says. */
  readonly draw: (random: Random) => { readonly said: string; readonly truth: Form['truth'] };
}

const ANSWERS = ['no, {}', 'correction, {}', 'I mean {}', 'sorry, {}', 'no, it is {}', '{}'];

const breaths = (random: Random) => {
  const value = whole(random, 8, 44);
  return { said: inWords(random, value), truth: { record: value } };
};
const beats = (random: Random) => {
  const value = whole(random, 42, 148);
  return { said: inWords(random, value), truth: { record: value } };
};
const pressure = (random: Random) => {
  const [systolic, diastolic] = [2 * whole(random, 44, 95), 2 * whole(random, 22, 55)];
  return {
    said: `${inWords(random, systolic)} over ${inWords(random, diastolic)}`,
    truth: { systolic, diastolic },
  };
};
const millilitres = (random: Random) => {
  const value = 25 * whole(random, 2, 40);
  return { said: inWords(random, value), truth: { record: value } };
};
const halves = (random: Random, value: number): string =>
  `${inWords(random, value)} ${pick(random, ['and a half', 'point five'])}`;
const pounds = (random: Random) => {
  const value = whole(random, 90, 260);
  const isHalf = random() < 0.4;
  return {
    said: isHalf ? halves(random, value) : inWords(random, value),
    truth: { 'record-pounds': value + (isHalf ? 0.5 : 0) },
  };
};
const kilograms = (random: Random) => {
  const [value, tenth] = [whole(random, 42, 118), whole(random, 0, 9)];
  const point = tenth === 0 ? '' : ` point ${inWords(random, tenth)}`;
  return { said: inWords(random, value) + point, truth: { 'record-kilograms': value + tenth / 10 } };
};
const ounces = (random: Random) => {
  const value = whole(random, 3, 30);
  return { said: inWords(random, value), truth: { record: Math.round(value * 29.57353) } };
};

/** 450 in all. */
const KINDS: readonly Kind[] = [
  {
    name: 'breaths',
    skill: 'respirations',
    count: 90,
    frames: [
      'I counted {} breaths',
      'I write down {} breaths a minute',
      'respirations are {}',
      '{} breaths a minute',
      'I counted {}',
      'I record {} respirations',
      'the respirations are {} per minute',
    ],
    draw: breaths,
  },
  {
    name: 'beats',
    skill: 'radial-pulse',
    count: 90,
    frames: [
      'I counted {} beats',
      'I write down {} beats a minute',
      'the pulse is {}',
      '{} beats per minute',
      'I counted {}',
      'I record a pulse of {}',
    ],
    draw: beats,
  },
  {
    name: 'pressure',
    skill: 'blood-pressure',
    count: 90,
    frames: [
      'the blood pressure is {}',
      '{}',
      'I got {}',
      'the blood pressure is {} millimeters of mercury',
      'blood pressure {}',
    ],
    draw: pressure,
  },
  {
    name: 'millilitres',
    skill: 'urine-output',
    count: 60,
    frames: [
      'I write down {} milliliters',
      'it shows {} milliliters',
      'the amount is {}',
      '{} milliliters',
      'I write {} cc on the sheet',
    ],
    draw: millilitres,
  },
  {
    name: 'ounces',
    skill: 'urine-output',
    count: 15,
    frames: ['I write down {} ounces', '{} fluid ounces'],
    draw: ounces,
  },
  {
    name: 'pounds',
    skill: 'standing-weight',
    count: 45,
    frames: ['I write down {} pounds', 'the weight is {} pounds', 'you weigh {} pounds', 'the scale says {}'],
    draw: pounds,
  },
  {
    name: 'kilograms',
    skill: 'standing-weight',
    variants: { unit: 'kilograms' },
    count: 30,
    frames: ['I write down {} kilograms', 'the weight is {} kilos', 'you weigh {} kilograms'],
    draw: kilograms,
  },
  { name: 'answer-breaths', skill: 'respirations', count: 15, frames: ANSWERS, draw: breaths },
  { name: 'answer-pressure', skill: 'blood-pressure', count: 15, frames: ANSWERS, draw: pressure },
];

/** All forms, the same always. No text is there twice. */
export function formsOf(): Form[] {
  return KINDS.flatMap(({ name, skill, variants = {}, count, frames, draw }) => {
    const random = randomFrom(seedOf(`readings ${name}`));
    const texts = new Map<string, Form>();
    for (let i = 0; texts.size < count; i++) {
      const frame = frames[i % frames.length] ?? '{}';
      const { said, truth } = draw(random);
      const text = sentence(frame.replace('{}', said));
      const split = texts.size % 2 === 0 ? 'dev' : 'held-out';
      if (!texts.has(text))
        texts.set(text, {
          id: `${name}-${texts.size}`,
          skill,
          variants,
          text,
          truth,
          isAnswer: name.startsWith('answer'),
          split,
        });
    }
    return [...texts.values()];
  });
}
