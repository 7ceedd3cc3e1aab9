import { z } from 'zod';

/** What became of a bundle's attempts, people and skills. */
export const TakenInSchema = z.object({
  attempts: z.array(
    z.object({
      /** Its id where it comes from. */
      record: z.string(),
      /** Its id here; null where it was not kept. */
      id: z.string().nullable(),
      became: z.enum([
        'new',
        'already here',
        'longer',
        'reviews added',
        'beside another',
        'its time is over',
      ]),
      /** Its trainee does not agree here that sound is kept: it was left out. */
      withoutSound: z.boolean(),
    }),
  ),
  /** Names of those who were added. */
  people: z.array(z.string()),
  /** Skills that are here from now on as a version, or differ under the same version, where ours stays. */
  skills: z.array(
    z.object({ id: z.string(), version: z.number(), became: z.enum(['kept as a version', 'differs here']) }),
  ),
});
export type TakenIn = Readonly<z.infer<typeof TakenInSchema>>;
type Became = TakenIn['attempts'][number]['became'];

const WORDS: Readonly<Record<Became, (count: string) => string>> = {
  new: (count) => `${count} taken in.`,
  longer: (count) => `${count} here already, went on elsewhere: what was added is here now.`,
  'reviews added': (count) => `${count} reviewed here and elsewhere: both reviews are here now. Signatures do not cover both: sign again.`,
  'already here': (count) => `${count} here already: nothing changed.`,
  'beside another': (count) => `${count} kept beside another one of the same time, which differs.`,
  'its time is over': (count) => `${count} left out: the school they come from keeps them no longer.`,
}; // prettier-ignore

/** The same in plain words, one sentence each. */
export function takenInWords({ attempts, people, skills }: TakenIn): string[] {
  const lines = Object.entries(WORDS).flatMap(([became, words]) => {
    const count = attempts.filter((attempt) => attempt.became === became).length;
    return count > 0 ? [words(rehearsals(count))] : [];
  });
  const silent = attempts.filter(({ withoutSound }) => withoutSound).length;
  const own = (wanted: TakenIn['skills'][number]['became']): string =>
    skills
      .filter(({ became }) => became === wanted)
      .map(({ id, version }) => `${id} (version ${version})`)
      .join(', ');
  return [
    ...(attempts.length === 0 ? ['There was no rehearsal in the file.'] : lines),
    ...(silent > 0 ? [`The sound of ${rehearsals(silent)} was left out: it may not be kept here.`] : []),
    ...(people.length > 0 ? [`Added: ${people.join(', ')}.`] : []),
    ...(own('kept as a version') ? [`Kept to mark by: ${own('kept as a version')}.`] : []),
    ...(own('differs here')
      ? [`Another text under the same version is here, and marks: ${own('differs here')}.`]
      : []),
  ];
}

const rehearsals = (count: number): string => (count === 1 ? '1 rehearsal' : `${count} rehearsals`);
