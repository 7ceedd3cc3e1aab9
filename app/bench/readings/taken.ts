import { z } from 'zod';

/** From where to where was counted, in seconds. */
const StretchSchema = z.strictObject({ from: z.number(), to: z.number() }).readonly();

/** A reading with its truth, as it is kept and looked back on. */
export const ReadingTakenSchema = z
  .strictObject({
    /** What was read, as people call it: "Respirations", "Upper number". */
    name: z.string().min(1).max(60),
    unit: z.string().min(1).max(40),
    recorded: z.number(),
    truth: z.number(),
    /** Null for what is read off, and where it is not known. */
    stretch: StretchSchema.nullable(),
    /** In UTC as ISO 8601 has it. */
    takenAt: z.iso.datetime(),
  })
  .readonly();
export type ReadingTaken = z.infer<typeof ReadingTakenSchema>;
