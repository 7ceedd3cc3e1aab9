import type { Trainee } from './trainee.ts';

/** Rises when {@link CONSENT} changes in what it says: then everybody is asked again. */
export const CONSENT_TEXT = 2;

/**
 * What a person is told before sound is kept for the first time: one question and its answer each.
 *
 * @param school whose archive this computer sends to; null for none
 */
export const CONSENT = (
  keptDays: number | null,
  school: string | null,
): readonly (readonly [question: string, answer: string])[] => [
  [
    'What is kept?',
    'The sound of each rehearsal, from start to end, with everybody who speaks near this computer; the words that were heard; and the marks.',
  ],
  [
    'Where?',
    school === null
      ? 'In a folder on this computer. The program sends nothing anywhere.'
      : `In a folder on this computer. With your agreement it also goes to the archive of ${school}, with your name and class; else not.`,
  ],
  [
    'How long?',
    keptDays === null
      ? 'Until somebody deletes it: your school has set no time.'
      : `${keptDays} ${keptDays === 1 ? 'day' : 'days'}. Then it is deleted. Your school can change this time.`,
  ],
  [
    'Who can hear it?',
    'Your instructor, whoever uses this computer and chooses your name, and whoever can open its files.' +
      (school === null ? '' : ' In the archive: your instructors and the school.'),
  ],
  [
    'How is it deleted?',
    'Under “Progress”, “Delete” beside a rehearsal deletes all of it. Your instructor can delete everything about you at once.' +
      (school === null ? '' : ' What is deleted here is deleted in the archive as well.'),
  ],
  [
    'Can it be copied?',
    'Your instructor can copy rehearsals into a file, with your name and class, for another computer of the school. What is deleted here must be deleted there as well.',
  ],
  [
    'What if I say no?',
    'You can rehearse all the same. No sound is kept, but the marks are, with the words they rest on. You can change your answer at any time.',
  ],
];

/** Whether a trainee agreed that sound is kept; null where that was not asked, or with another text. */
export const decisionOf = ({ consent }: Trainee): boolean | null =>
  consent?.text === CONSENT_TEXT ? consent.agreed : null;

/** Whether a trainee must be asked before the next rehearsal; also about an archive that is new to them. */
export const mustAsk = (trainee: Trainee, school: string | null): boolean =>
  decisionOf(trainee) === null ||
  (school !== null && decisionOf(trainee) === true && trainee.consent?.sends === undefined);

/** From when on a trainee's rehearsals may go to the archive, as ISO 8601; null where they may not. */
export const sendsFrom = (trainee: Trainee): string | null =>
  decisionOf(trainee) === true && trainee.consent?.sends === true ? trainee.consent.at : null;
