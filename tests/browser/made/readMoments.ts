import type { RehearsalEvent } from '../../../app/marking/events.ts';
import type { Moment } from '../roomPage/page.tsx';

const evidence = { utterance: 1, text: 'said', start: 70, end: 73, score: 1 };
const read = (step: string, value: number, sure: boolean): RehearsalEvent => ({
  type: 'reading',
  step,
  value,
  sure,
  rivals: [],
  evidence,
  ...(!sure && { why: 'unclear' as const }),
});
const readBack = (readings: readonly { step: string; value: number }[]): RehearsalEvent => ({
  type: 'read back',
  readings,
  at: 74,
});

/** The room just after numbers were said: one that was heard, and one that is asked about. */
export const READ_MOMENTS: Readonly<Record<'reading' | 'reading-asked', Moment>> = {
  reading: {
    skill: 'blood-pressure',
    now: 75,
    caption: '118 over 76. Right?',
    events: [
      read('systolic', 118, true),
      read('diastolic', 76, true),
      readBack([
        { step: 'systolic', value: 118 },
        { step: 'diastolic', value: 76 },
      ]),
    ],
  },
  'reading-asked': {
    skill: 'respirations',
    now: 75,
    caption: 'Was it eighteen: one, eight?',
    events: [read('record', 18, false), readBack([{ step: 'record', value: 18 }])],
  },
};
