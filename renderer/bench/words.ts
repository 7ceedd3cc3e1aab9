import type { BreathPattern } from '../../app/bench/breaths.ts';
import type { Phase } from '../../app/bench/pressure.ts';
import type { PulsePattern } from '../../app/bench/pulse.ts';
import type { Comparison, Unit } from '../../app/bench/readings/reading.ts';
import type { BenchRemark } from '../../app/bench/resident/remarks.ts';
import type { Measure } from '../../app/skills/measure.ts';

export const MEASURES: Readonly<Record<Measure, { readonly title: string; readonly text: string }>> = {
  respirations: { title: 'Respirations', text: 'Count the breaths of one full minute.' },
  pulse: { title: 'Pulse at the wrist', text: 'Find the spot, hold it and count the beats.' },
  pressure: { title: 'Blood pressure', text: 'Pump up the cuff, let it down, listen.' },
  urine: { title: 'Urine output', text: 'Read a measuring container at eye level.' },
  weight: { title: 'Standing weight', text: 'Set the scale to zero, then balance it.' },
};

export const PATTERN_SAYS: Readonly<Record<BreathPattern | PulsePattern, string>> = {
  even: 'Even, 12 to 20 a minute',
  slow: 'Slow',
  fast: 'Fast',
  irregular: 'Irregular',
  periodic: 'In groups, with long pauses',
  regular: 'Regular',
};

/** What was done otherwise than it should be, told afterwards. */
export const REMARK_SAYS: Readonly<Record<BenchRemark, string>> = {
  'stopped early': 'You stopped early. The truth is that of the whole minute from your start.',
  'ran on': 'You counted for longer than a minute. The truth is that of the minute from your start.',
  'half a minute is not allowed': 'You counted half a minute. Here the full minute is asked for.',
  'irregular needs a full minute':
    'This pulse is irregular: half a minute, doubled, is not enough. Count the full minute and report it.',
  'not high enough':
    'The cuff was not pumped up high enough. Pump to 30 above where the wrist pulse goes, or the first sounds are missed.',
  'too fast':
    'The cuff was let down too fast: 2 to 3 mmHg a second. Between two beats the needle passes the true number.',
  'too slow':
    'The cuff was let down too slowly: 2 to 3 mmHg a second. It hurts, and blood dams up in the arm.',
  'stopped on the way': 'The cuff was stopped on the way down. Let it down evenly.',
  'pumped up again':
    'The cuff was pumped up again on the way down. Let all the air out, wait a minute, begin again.',
  'began in the gap':
    'This resident has a silent gap below the first sounds, and the cuff was only pumped up into it. Feeling the wrist while pumping shows how high is high enough.',
  'no stop heard':
    'The count was heard to start, not to stop. The truth is that of the whole minute from your start.',
  'not doubled': 'Your number looks like that of half a minute, not doubled.',
  doubled: 'Your number looks doubled, though you counted for longer than half a minute.',
  'pulse not held':
    'The count began before your fingers were on the pulse. Find it first, and say so: “I have the pulse.”',
  'arm hung down':
    'The arm was not heard to be supported at the height of the heart. Here it hung down, and the numbers come out some 12 mmHg too high.',
  'read from above':
    'You read the container from above, where the surface lies against too high a mark. Read at eye level.',
  'not set to zero': 'The empty scale was not set to zero.',
  'did not balance': 'The beam did not balance where you left the poises.',
};

/** A Korotkoff sound in a word, for who cannot hear it. */
export const PHASE_SAYS: Readonly<Record<Phase, string>> = {
  1: 'tap',
  2: 'swish',
  3: 'thump',
  4: 'muffled',
};

export const UNIT_SAYS: Readonly<Record<Unit, string>> = {
  'breaths a minute': 'breaths',
  'beats a minute': 'beats a minute',
  mmHg: 'mmHg',
  millilitres: 'mL',
  pounds: 'lb',
  kilograms: 'kg',
};

/** A number without more digits than it needs: 142.5, 16, −3. */
export const figure = (value: number): string => String(Math.round(value * 100) / 100).replace('-', '−');

export function verdictSays({ verdict, tolerance, unit }: Comparison): string {
  const unitSays = UNIT_SAYS[unit];
  switch (verdict) {
    case 'within':
      return `Within ${figure(tolerance ?? 0)} ${unitSays}: close enough`;
    case 'outside':
      return `Off by more than ${figure(tolerance ?? 0)} ${unitSays}`;
    case 'not judged':
      return 'These rules name no tolerance: it is shown, not judged';
  }
}

/** "3 too high", "exact". */
export function differenceSays(difference: number): string {
  if (Math.abs(difference) < 0.005) return 'exact';
  return `${figure(Math.abs(difference))} too ${difference > 0 ? 'high' : 'low'}`;
}
