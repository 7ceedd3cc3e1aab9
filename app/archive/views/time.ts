import type { Asked } from './api.ts';

/** A stretch of time: from one moment on and before another. */
export interface Span {
  readonly from: Date;
  readonly to: Date;
}

/** Before and after all that is kept. */
const ALWAYS: Span = { from: new Date('1970-01-01'), to: new Date('9999-12-31') };

/** The time that a request asks for, in whole days of UTC. */
export const spanOf = ({ from, to }: Pick<Asked, 'from' | 'to'>): Span => ({
  from: from === undefined ? ALWAYS.from : new Date(from),
  to: to === undefined ? ALWAYS.to : new Date(to),
});
