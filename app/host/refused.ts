import type { Problem } from './api.ts';

/** A request that is not answered as asked. */
export class Refused extends Error {
  override readonly name = 'Refused';
  /** @param status HTTP status code (RFC 9110) */
  constructor(
    readonly status: number,
    readonly problem: Problem,
  ) {
    super(problem.error);
  }
}
