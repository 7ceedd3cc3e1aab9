import type { People, Rehearsal, Trainee } from '../../app/host/api.ts';
import { decisionOf, mustAsk } from '../../app/people/consent.ts';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import type { Rehearser } from '../record/record.ts';

/** Asks a trainee whether sound may be kept; gives null where no answer was given. */
export type AskConsent = (
  trainee: Trainee,
  told: Pick<People, 'keptDays' | 'school'>,
) => Promise<boolean | null>;

/** Who is chosen, asked first where that was not done yet; null where no answer was given. */
export async function rehearserOf(
  { trainees, chosen, keptDays, school }: People,
  askConsent: AskConsent,
): Promise<Rehearser | null> {
  const trainee = trainees.find(({ id }) => id === chosen);
  if (!trainee) return { trainee: null, keepsSound: true };
  const agreed = mustAsk(trainee, school)
    ? await askConsent(trainee, { keptDays, school })
    : decisionOf(trainee);
  return agreed === null ? null : { trainee: trainee.id, keepsSound: agreed };
}

/** As whom a rehearsal is gone on with: its own trainee, with sound where it was begun so and that may still be kept. */
export function goesOnAs(
  { trainee = null, withoutSound }: Rehearsal['header'],
  { trainees }: People,
): Rehearser {
  const known = trainees.find(({ id }) => id === trainee);
  const agreed = trainee === null || (known !== undefined && decisionOf(known) === true);
  return { trainee, keepsSound: agreed && !withoutSound };
}

/** Samples that a rehearsal was long: of its sound, or where none was kept as far as its events tell. */
export function lengthOf({ header, samples, events }: Rehearsal): number {
  if (!header.withoutSound) return samples;
  const ends = events.map((event) => {
    if (event.type === 'heard') return event.utterance.end;
    if (event.type === 'loudness') return event.to;
    return 'at' in event ? event.at : 0;
  });
  return Math.round(SAMPLE_RATE * ends.reduce((latest, end) => Math.max(latest, end), 0));
}
