import type { Measure } from '../../../app/skills/measure.ts';
import type { Line } from '../../speech/narration.ts';

/** What a synthetic trainee says to measure a simulated resident, once rightly and once wrongly. */
export interface MeasureScript {
  readonly skill: string;
  /** Of the resident whose numbers are said. */
  readonly seed: number;
  readonly lines: readonly Line[];
  /** The steps whose number is said. */
  readonly readings: readonly string[];
}

export type How = 'right' | 'wrong';

const line = (say: string, pause = 1.5): Line => ({
  say,
  by: 'trainee',
  pause,
  credits: [],
  either: [],
  counts: {},
});

/** A resident with numbers that are easily told from others by ear: 114 over 56, some 70 beats, 350 mL, 135 lb; valve at 2.5 mmHg a second. */
const PLAIN = 126;

/** Breathes 11 or 12 times in any minute. */
const BREATHES_TWELVE = 278;

const SCRIPTS: Readonly<Record<Measure, (how: How) => MeasureScript>> = {
  respirations: (how) => ({
    skill: 'respirations',
    seed: BREATHES_TWELVE,
    readings: ['record'],
    lines: [
      line('I can see your chest rise and fall.'),
      line('Starting now.', 60.5),
      line('That is one full minute, done.'),
      line('I wash my hands before I write it down.'),
      line(`I write down ${how === 'right' ? 'twelve' : 'six'} respirations.`, 3),
    ],
  }),
  pulse: (how) => ({
    skill: 'radial-pulse',
    seed: PLAIN,
    readings: ['record'],
    lines: [
      line('I rest your arm on the table with the palm down.'),
      line('I have the pulse.', 4),
      line('I look at the second hand of my watch. Starting now.', 60.5),
      line('That is one full minute, I stop.'),
      line('I wash my hands before I write it down.'),
      line(`I write down a pulse of ${how === 'right' ? 'seventy' : 'ninety two'} beats a minute.`, 3),
    ],
  }),
  pressure: (how) => ({
    skill: 'blood-pressure',
    seed: PLAIN,
    readings: ['systolic', 'diastolic'],
    lines: [
      line('Your arm is resting on the table at the level of your heart, palm up.'),
      line('I wrap the cuff snugly around the upper arm, just above the elbow.'),
      line('I place the diaphragm over the artery.', 2),
      line('Pump it up to one hundred fifty.', 18),
      line('I let the air out slowly.', how === 'right' ? 44 : 6),
      line('All the air out.', 6),
      line(`The first sound is at ${how === 'right' ? 'one hundred fourteen' : 'one hundred forty two'}.`),
      line('The last sound is at fifty six.', 3),
    ],
  }),
  urine: (how) => ({
    skill: 'urine-output',
    seed: PLAIN,
    readings: ['record'],
    lines: [
      line('I pour the urine from the urinal into the measuring container without spilling.', 2),
      ...(how === 'right' ? [line('Eye level.', 4)] : []),
      line('I wash my hands.'),
      line(
        `I write down ${how === 'right' ? 'three hundred fifty' : 'four hundred fifty'} millilitres of urine.`,
        3,
      ),
    ],
  }),
  weight: (how) => ({
    skill: 'standing-weight',
    seed: PLAIN,
    readings: ['record-pounds'],
    lines: [
      ...(how === 'right' ? [line('I set the scale to zero.', 2)] : []),
      line('I help you step up onto the scale.', 2),
      line('The large poise to one hundred.', 3),
      line('The small poise to thirty five.', 4),
      line('The bar is still, so I read the scale.'),
      line(`I write down one hundred ${how === 'right' ? 'thirty five' : 'sixty'} pounds.`, 3),
    ],
  }),
};

export const measureScript = (measure: Measure, how: How): MeasureScript => SCRIPTS[measure](how);

/** A rehearsal of one skill, from its beginning to its end. */
export const whole = (lines: readonly Line[]): Line[] => [
  line('I am ready to begin.', 3),
  ...lines,
  line('Stop the rehearsal.', 6),
];

/** A mock test of hand washing and the skill. */
export const inTest = (lines: readonly Line[]): Line[] => [
  line('I am ready to begin.', 3),
  line('Next skill, please.', 4),
  ...lines,
  line('Next skill, please.', 6),
];
