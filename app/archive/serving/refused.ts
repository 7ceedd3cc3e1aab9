import type { ContentfulStatusCode } from 'hono/utils/http-status';
import { BundleRefused } from '../../bundle/refused.ts';
import { DamagedPart, MissingPart } from '../parts/parts.ts';
import { StationRevoked } from '../taking/takeIn.ts';
import type { Problem } from './api.ts';

/** A request that is not answered as asked. */
export class Refused extends Error {
  override readonly name = 'Refused';
  /**
   * @param status HTTP status code (RFC 9110)
   * @param retryAfter seconds, for 429
   */
  constructor(
    readonly status: ContentfulStatusCode,
    error: string,
    readonly advice: string,
    readonly retryAfter?: number,
  ) {
    super(error);
  }
}

/** There is nothing of that id, or it is not for who asks: which of both is not told. */
export const notThere = (what: string): Refused =>
  new Refused(
    404,
    `There is no such ${what}, or it is not yours to see.`,
    'Choose one of those that are listed.',
  );

/** PostgreSQL's codes (appendix A of its manual), and what they mean to who asked. */
const BY_CODE: Readonly<Record<string, readonly [ContentfulStatusCode, string, string]>> = {
  '42501': [403, 'This is not for you to do.', 'Ask somebody of the school.'],
  '23503': [
    409,
    'Something that this needs is not there, or something still needs this.',
    'Look at the list again.',
  ],
  '40P01': [503, 'Others were doing the same at this moment.', 'Try again in a minute.'],
  '23505': [409, 'There is one like this already.', 'Look at the list again.'],
};

/** What is answered when something fails; null where it is a fault of the archive. */
export function refusalOf(error: unknown): Refused | null {
  if (error instanceof Refused) return error;
  if (error instanceof BundleRefused) return new Refused(422, error.message, 'Nothing of it was taken.');
  if (error instanceof StationRevoked)
    return new Refused(401, error.message, 'Enrol this station again with a new code.');
  if (error instanceof MissingPart || error instanceof DamagedPart)
    return new Refused(422, 'The sound of this attempt is lost or damaged.', 'Tell who keeps the archive.');
  const known = BY_CODE[String((error as { code?: unknown }).code)];
  return known ? new Refused(...known) : null;
}

/** A refusal as it is sent. */
export const problemOf = ({ message, advice }: Refused, where: string): Problem => ({
  error: message,
  where,
  advice,
});

/** What is sent where the archive itself fails. What exactly failed is told to who keeps it, not to who asks. */
export const faultOf = (where: string): Problem => ({
  error: 'The archive could not do this.',
  where,
  advice: 'Try again in a minute. If it happens again, tell who keeps the archive.',
});
