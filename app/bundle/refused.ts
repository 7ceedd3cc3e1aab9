/** Why a file is not taken as a bundle. */
export type Reason =
  | 'not a bundle'
  | 'newer'
  | 'truncated'
  | 'tampered'
  | 'unsafe path'
  | 'too large'
  | 'unexpected entry'
  | 'duplicate entry'
  | 'bad manifest'
  | 'bad attempt'
  | 'bad skill';

const WORDS: Readonly<Record<Reason, string>> = {
  'not a bundle': 'This is no file of rehearsals made by Sinkside',
  newer: 'This file was made by a newer version of Sinkside. Take it in with that version',
  truncated: 'The file breaks off. Copy it again, or have it made again',
  tampered: 'What is in the file is not what was put into it. Have it made again',
  'unsafe path': 'The file holds a name that could lead outside its folder. Do not use it',
  'too large': 'The file holds more than is taken in at once. Have it made with fewer rehearsals',
  'unexpected entry': 'The file holds something that does not belong into it. Have it made again',
  'duplicate entry': 'The file holds one name twice. Have it made again',
  'bad manifest': 'The list at the beginning of the file is faulty. Have it made again',
  'bad attempt': 'A rehearsal in the file cannot be read. Have the file made again without it',
  'bad skill':
    'A skill in the file cannot be read. Put it right where it comes from, then have the file made again',
};

/** A bundle is not taken, for its {@link Reason}; nothing of it was kept. */
export class BundleRefused extends Error {
  override readonly name = 'BundleRefused';
  /** @param where the entry, or what exactly is wrong; empty for the file as a whole */
  constructor(
    readonly reason: Reason,
    readonly where = '',
  ) {
    super(`${WORDS[reason]}${where && ` (${where})`}.`);
  }
}
