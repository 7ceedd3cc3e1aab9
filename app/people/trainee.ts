import { z } from 'zod';

/** A random UUID: it tells nothing of the person. */
export const TraineeIdSchema = z.uuid();

/** What a person is entered with. */
export const NewTraineeSchema = z.object({
  /** A name or initials. */
  name: z.string().trim().min(1, 'must not be empty').max(80),
  /** The class; empty for none. */
  class: z.string().trim().max(80).default(''),
});
export type NewTrainee = z.input<typeof NewTraineeSchema>;

/** Whether a person's sound may be kept, as the person has decided; see the text in `consent.ts`. */
export const ConsentSchema = z.object({
  agreed: z.boolean(),
  /** Which text was shown: its number. */
  text: z.number().int().positive(),
  at: z.iso.datetime(),
  /** Whether rehearsals begun from then on may go to the school's archive; left out where that was not asked. */
  sends: z.boolean().exactOptional(),
});

/** A person who rehearses on this machine. */
export const TraineeSchema = NewTraineeSchema.extend({
  id: TraineeIdSchema,
  /** Null until the person was asked. */
  consent: ConsentSchema.nullable(),
});
export type Trainee = z.infer<typeof TraineeSchema>;

/** Days that rehearsals are kept; null: until somebody deletes them. */
export const KeptDaysSchema = z.number().int().min(1).max(3650).nullable();

/** What was deleted for its age and nobody was told of yet. */
export const DeletedSchema = z.object({ count: z.number().int().positive(), at: z.iso.datetime() });
