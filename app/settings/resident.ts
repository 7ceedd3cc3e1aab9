import { z } from 'zod';

/** How a simulated resident is met, in rehearsals of skills that have something to measure. */
export const ResidentSettingsSchema = z.object({
  /** None; an ordinary one; or any, unusual ones among them, and one is not told which. */
  kind: z.enum(['none', 'ordinary', 'any']).default('ordinary'),
  /** The same number gives the same resident everywhere; null for a new one each time. */
  seed: z.number().int().nonnegative().nullable().default(null),
  /** By which senses they are met. */
  picture: z.boolean().default(true),
  sound: z.boolean().default(true),
  vibration: z.boolean().default(false),
  /** The clock ticks, for who cannot see its hand. */
  clock: z.boolean().default(false),
  /** Less movement: things change in steps or in brightness. */
  still: z.boolean().default(false),
});
export type ResidentSettings = z.infer<typeof ResidentSettingsSchema>;
