import { z } from 'zod';
import type { RehearsalEvent } from '../rehearsal/events.ts';

/** An event as it lies in the journal. */
export const EventSchema: z.ZodType<RehearsalEvent> = z.custom<RehearsalEvent>(
  (value) => z.looseObject({ type: z.string() }).safeParse(value).success,
  'is no event',
);
