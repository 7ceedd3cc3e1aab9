import type { Kind } from '../skillEdit.ts';

/** The name of a field of the evidence, and what the form calls it. */
type Labelled = readonly [name: string, label: string];

interface EvidenceFields {
  /** What this kind of evidence is called. */
  readonly title: string;
  readonly numbers?: readonly Labelled[];
  readonly texts?: readonly Labelled[];
  readonly lists?: readonly Labelled[];
}

/** The fields that a form has for each kind of evidence. */
export const FIELDS: Readonly<Record<Kind, EvidenceFields>> = {
  said: { title: 'It is said' },
  eyes: { title: 'An observer must see it' },
  timed: {
    title: 'It takes a set time',
    numbers: [
      ['atLeast', 'Seconds needed'],
      ['grace', 'Seconds that may be missing'],
    ],
    lists: [
      ['start', 'Sayings that start the time'],
      ['stop', 'Sayings that end it'],
    ],
  },
  counted: {
    title: 'It is repeated',
    numbers: [['atLeast', 'Times needed']],
    texts: [['joint', 'Joint that is moved']],
    lists: [['again', 'Short sayings that count']],
  },
  reading: {
    title: 'It is a number',
    numbers: [
      ['from', 'Smallest that can be meant'],
      ['to', 'Largest that can be meant'],
    ],
    texts: [['unit', 'Unit']],
    lists: [['value', 'Sayings that carry the number']],
  },
};
