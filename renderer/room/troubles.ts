import { messageOf } from '../../app/faults/faults.ts';

/** What can go wrong around a rehearsal, as it is shown: what it is, and what to do. */
export interface Trouble {
  readonly kind: TroubleKind;
  readonly title: string;
  readonly text: string;
}

export type TroubleKind =
  | 'microphone refused'
  | 'microphone missing'
  | 'microphone taken'
  | 'microphone lost'
  | 'microphone silent'
  | 'model'
  | 'behind'
  | 'engine'
  | 'restarted'
  | 'judge'
  | 'host'
  | 'program';

const TEXTS: Readonly<Record<TroubleKind, readonly [title: string, text: string]>> = {
  'microphone refused': [
    'The microphone is not allowed.',
    'Allow it for this page (the sign beside the address), or in the system’s privacy settings. Trying again by itself.',
  ],
  'microphone missing': [
    'There is no microphone.',
    'Plug one in, or switch the headset on. The rehearsal goes on by itself once it is there.',
  ],
  'microphone taken': [
    'Another program has the microphone.',
    'Close the program that uses it, such as a call. Paused until it is back; what was heard is kept.',
  ],
  'microphone lost': [
    'The microphone was unplugged.',
    'Plug it in again. Paused until then; what was heard is kept.',
  ],
  'microphone silent': [
    'No sound comes from the microphone.',
    'See whether it is muted or too far away. Nothing said now is heard.',
  ],
  model: ['The speech model cannot be used.', 'Go back to the start and get it again.'],
  behind: [
    'This machine falls behind.',
    'Marks come late, none is lost. Close other programs; pause for a moment to let it catch up.',
  ],
  restarted: ['The recogniser stopped and was started again.', 'Marks come late, none is lost.'],
  judge: [
    'What was meant is not judged.',
    'Marks rest on the skill’s own wordings alone: say each step plainly.',
  ],
  engine: ['Some sound was not recognised.', 'Say again what you said last.'],
  host: [
    'The record cannot be written just now.',
    'Everything is kept in this window and written once it can be: leave it open.',
  ],
  program: ['That did not work.', ''],
};

/** A trouble with its texts. `detail` says more where something is known about this case. */
export function troubleOf(kind: TroubleKind, detail = ''): Trouble {
  const [title, text] = TEXTS[kind];
  if (detail === '') return { kind, title, text };
  return { kind, title, text: text === '' ? detail : `${text} (${detail})` };
}

/** What kept the microphone from being opened. Names are those of the Media Capture specification. */
export function microphoneTrouble(error: unknown): Trouble {
  const name = error instanceof Error ? error.name : '';
  if (name === 'NotAllowedError' || name === 'SecurityError') return troubleOf('microphone refused');
  if (name === 'NotReadableError' || name === 'AbortError') return troubleOf('microphone taken');
  if (name === 'NotFoundError' || name === 'OverconstrainedError') return troubleOf('microphone missing');
  return troubleOf('microphone missing', messageOf(error));
}

/** Troubles with one more, or with its text renewed. */
export const withTrouble = (troubles: readonly Trouble[], trouble: Trouble): readonly Trouble[] => [
  ...troubles.filter(({ kind }) => kind !== trouble.kind),
  trouble,
];

/** Troubles without some. The same list when there is nothing to take out. */
export const withoutTrouble = (
  troubles: readonly Trouble[],
  ...kinds: readonly TroubleKind[]
): readonly Trouble[] => {
  const left = troubles.filter(({ kind }) => !kinds.includes(kind));
  return left.length === troubles.length ? troubles : left;
};
