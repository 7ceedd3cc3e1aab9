import { z } from 'zod';
import { RehearsalIdSchema } from '../records/header.ts';

/** How sending to the school's archive stands. */
export const SendingStandingSchema = z.object({
  address: z.string(),
  school: z.string(),
  /** What the school calls this station. */
  station: z.string(),
  enrolledAt: z.iso.datetime(),
  /** Whether sending is turned on. */
  isOn: z.boolean(),
  /** What the archive said when it last took this station's key no more; null while it takes it. */
  revoked: z.string().nullable(),
  /** Rehearsals that the archive does not have, or not as they are now. */
  waiting: z.number().int().nonnegative(),
  /** Rehearsals that stay here: of trainees who did not agree, or of nobody in particular. */
  staying: z.number().int().nonnegative(),
  /** Rehearsals that the archive has acknowledged. */
  sent: z.number().int().nonnegative(),
  lastSentAt: z.iso.datetime().nullable(),
  /** When the archive last answered since the program was started. */
  lastContactAt: z.iso.datetime().nullable(),
  /** What the archive does not take as it is; not sent again until it changes or somebody asks for it. */
  refused: z.array(z.object({ record: RehearsalIdSchema, at: z.iso.datetime(), why: z.string() })),
  /** Why the last try failed; null where it did not. */
  trouble: z.string().nullable(),
  /** When it is tried next; null where it is not. */
  nextAt: z.iso.datetime().nullable(),
});
export type SendingStanding = z.infer<typeof SendingStandingSchema>;
