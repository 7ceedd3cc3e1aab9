import { z } from 'zod';
import type { CuffAction } from '../pressure.ts';
import { AT_ZERO, type Poises } from '../scale.ts';

/** One thing done with the resident or an instrument, as the journal holds it. What it led to is worked out again. */
export const HandlingSchema = z.discriminatedUnion('do', [
  /** The fingers are on the pulse, or off it. */
  z.strictObject({ do: z.literal('fingers'), on: z.boolean() }),
  z.strictObject({ do: z.literal('squeeze') }),
  /** mmHg a second; 0 is shut. */
  z.strictObject({ do: z.literal('valve'), rate: z.number().nonnegative() }),
  /** The stethoscope is in the ears and on the arm; else the wrist is felt. */
  z.strictObject({ do: z.literal('listen'), on: z.boolean() }),
  z.strictObject({ do: z.literal('support arm') }),
  /** Degrees from which one looks down on the container, 0 being eye level. */
  z.strictObject({ do: z.literal('look'), above: z.number().min(0).max(90) }),
  z.strictObject({ do: z.literal('set to zero') }),
  z.strictObject({ do: z.literal('stand'), on: z.boolean() }),
  z.strictObject({
    do: z.literal('poises'),
    large: z.number().int().nonnegative(),
    small: z.number().nonnegative(),
  }),
]);
export type Handling = Readonly<z.infer<typeof HandlingSchema>>;

/** A handling and when it was done, in seconds. */
export interface Handled {
  readonly at: number;
  readonly how: Handling;
}

/** How the instruments stand after all that was done. */
export interface Instruments {
  readonly fingersOn: boolean;
  readonly cuff: readonly CuffAction[];
  /** How far the valve is open, mmHg a second. */
  readonly valve: number;
  readonly listens: boolean;
  readonly isSupported: boolean;
  readonly above: number;
  readonly isZeroed: boolean;
  readonly isOnScale: boolean;
  readonly poises: Poises;
  /** When the scale was last touched, or the container looked at otherwise. */
  readonly moved: number;
}

/** From how far above one looks at a container that one stands before, in degrees (common practice, no source). */
export const STANDING = 24;

export const UNTOUCHED: Instruments = {
  fingersOn: false,
  cuff: [],
  valve: 0,
  listens: false,
  isSupported: false,
  above: STANDING,
  isZeroed: false,
  isOnScale: false,
  poises: AT_ZERO,
  moved: 0,
};

/** The instruments after one more handling. */
export function handle(now: Instruments, { at, how }: Handled): Instruments {
  switch (how.do) {
    case 'fingers':
      return { ...now, fingersOn: how.on };
    case 'squeeze':
      return { ...now, cuff: [...now.cuff, { at, do: 'squeeze' }] };
    case 'valve':
      return { ...now, cuff: [...now.cuff, { at, do: 'valve', rate: how.rate }], valve: how.rate };
    case 'listen':
      return { ...now, listens: how.on };
    case 'support arm':
      return { ...now, isSupported: true };
    case 'look':
      return { ...now, above: how.above, moved: at };
    case 'set to zero':
      return { ...now, isZeroed: true, moved: at };
    case 'stand':
      return { ...now, isOnScale: how.on, moved: at };
    case 'poises':
      return { ...now, poises: { large: how.large, small: how.small }, moved: at };
  }
}

/** How the instruments stand in the resident's own time. */
export const instrumentsOf = (met: number, handled: readonly Handled[]): Instruments =>
  handled.map(({ at, how }) => ({ at: at - met, how })).reduce(handle, UNTOUCHED);
