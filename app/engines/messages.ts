/**
 * What a page and its listening worker say to each other. Every message is checked on arrival: the two are built and
 * cached apart, and an old worker may meet a new page.
 */
import { z } from 'zod';
import { JudgedSchema, UtteranceSchema } from '../language/utterance.ts';
import type { ListenerEvent } from '../listening/listener.ts';
import { ENGINES } from '../settings/choice.ts';

const bytes = z.custom<Uint8Array>((value) => value instanceof Uint8Array);
const seconds = z.number();

const EventSchema: z.ZodType<ListenerEvent> = z.discriminatedUnion('type', [
  z.object({ type: z.literal('speech'), at: seconds }),
  z.object({
    type: z.literal('partial'),
    text: z.string(),
    start: seconds,
    end: seconds,
    judged: z.array(JudgedSchema).readonly().exactOptional(),
  }),
  z.object({ type: z.literal('utterance'), utterance: UtteranceSchema }),
  z.object({
    type: z.literal('trouble'),
    trouble: z.object({
      kind: z.enum(['model', 'behind', 'engine', 'restarted', 'judge']),
      message: z.string(),
    }),
  }),
]);

/** Something asked of the worker. `call` comes back with the answer. */
export const RequestSchema = z.object({
  call: z.number().int(),
  ask: z.discriminatedUnion('type', [
    z.object({
      type: z.literal('open'),
      model: z.object({ engine: z.enum(ENGINES), files: z.map(z.string(), bytes) }),
      detector: bytes,
      judge: z.object({ network: bytes, tokenizer: bytes }).exactOptional(),
      partials: z.boolean(),
    }),
    z.object({
      type: z.enum(['start', 'expect']),
      phrases: z.array(z.string()),
      steps: z.array(z.object({ id: z.string(), text: z.string() })),
    }),
    z.object({ type: z.literal('feed'), samples: z.instanceof(Float32Array) }),
    z.object({ type: z.literal('pinpoint'), utterance: UtteranceSchema, wanted: z.array(z.number().int()) }),
    z.object({ type: z.literal('stop') }),
  ]),
});
export type Request = z.infer<typeof RequestSchema>;
export type Ask = Request['ask'];

/** What the worker says: events as they come, and one answer to each call. */
export const ReplySchema = z.discriminatedUnion('type', [
  z.object({ type: z.literal('event'), event: EventSchema }),
  z.object({ type: z.literal('done'), call: z.number().int(), utterance: UtteranceSchema.exactOptional() }),
  z.object({ type: z.literal('failed'), call: z.number().int(), message: z.string() }),
]);
export type Reply = z.infer<typeof ReplySchema>;

/** The part of a Worker, a worker's global scope and a MessagePort that is used here. */
export interface Port {
  postMessage(message: unknown, transfer: Transferable[]): void;
  /** `error`: a worker cannot be loaded, or failed outside any call. */
  addEventListener(type: 'message' | 'error', listener: (event: PortEvent) => void): void;
}

export interface PortEvent {
  readonly data?: unknown;
  readonly message?: string;
}
