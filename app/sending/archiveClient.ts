import { createReadStream } from 'node:fs';
import { Readable } from 'node:stream';
import type { z } from 'zod';
import {
  ContactSchema,
  EnrolledSchema,
  ProblemSchema,
  TakenSchema,
  type Contact,
  type Enrolled,
  type Gone,
  type Taken,
} from '../archive/serving/api.ts';
import { messageOf } from '../faults/faults.ts';

/** The archive cannot be reached, is busy or has failed: later it may be otherwise. */
export class ArchiveAway extends Error {
  override readonly name = 'ArchiveAway';
}

/** The archive does not take this station's key: it was revoked, or is not of that archive. */
export class KeyRefused extends Error {
  override readonly name = 'KeyRefused';
}

/** The archive refuses what was asked, and would again. */
export class ArchiveRefused extends Error {
  override readonly name = 'ArchiveRefused';
}

/** What a station asks of its archive. Every function throws {@link ArchiveAway}, {@link KeyRefused} or {@link ArchiveRefused}. */
export interface Archive {
  contact(): Promise<Contact>;
  /** Sends a bundle, given its file. */
  send(file: string): Promise<Taken>;
  /** Tells what is no longer at the station. */
  tellGone(records: Gone['records']): Promise<void>;
}

/** Milliseconds that an answer may take; a bundle takes longer, for a slow line: 100 MB at 1.5 Mbit/s. */
const ANSWER_WITHIN = 30_000;
const SENT_WITHIN = 10 * 60_000;

/** The archive at an address, asked with a station's key. */
export function archiveAt(address: string, key: string, signal?: AbortSignal): Archive {
  const authorization = `Bearer ${key}`;
  const ask = <S extends z.ZodType>(
    schema: S,
    where: string,
    init: Sent,
    within = ANSWER_WITHIN,
  ): Promise<z.output<S>> =>
    answered(schema, `${address}${where}`, { ...init, ...(signal && { signal }) }, within, { authorization });
  return {
    contact: () => ask(ContactSchema, '/api/station', {}),
    send: (file) => {
      const body = Readable.toWeb(createReadStream(file)) as BodyInit;
      const headers = { 'content-type': 'application/zip' };
      return ask(
        TakenSchema,
        '/api/station/bundles',
        { method: 'POST', headers, body, duplex: 'half' },
        SENT_WITHIN,
      );
    },
    tellGone: async (records) => {
      const url = `${address}/api/station/gone`;
      await reached(url, { ...json({ records }), ...(signal && { signal }) }, ANSWER_WITHIN, {
        authorization,
      });
    },
  };
}

/**
 * Enrols this station with a code that works once.
 *
 * @param address as `archiveAddress` gives it
 * @throws {ArchiveRefused} the code does not work
 * @throws {ArchiveAway}
 */
export function enrolAt(address: string, code: string): Promise<Enrolled> {
  return answered(EnrolledSchema, `${address}/api/enrol`, json({ code }), ANSWER_WITHIN, {});
}

/** `duplex` is asked for by Node's fetch where the body is a stream. */
type Sent = Omit<RequestInit, 'headers'> & { headers?: Record<string, string>; duplex?: 'half' };

const json = (body: unknown): Sent => ({
  method: 'POST',
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(body),
});

async function answered<S extends z.ZodType>(
  schema: S,
  url: string,
  init: Sent,
  within: number,
  headers: Record<string, string>,
): Promise<z.output<S>> {
  const response = await reached(url, init, within, headers);
  const answer = schema.safeParse(await response.json().catch(() => null));
  if (answer.success) return answer.data;
  throw new ArchiveAway(
    `${url} answers what this program does not know. Is it an archive, and of this version?`,
  );
}

/** What broke off (400), was too slow (408) or too much at once (429): nothing that stays so (RFC 9110, RFC 6585). */
const PASSING = new Set([400, 408, 429]);

async function reached(
  url: string,
  init: Sent,
  within: number,
  headers: Record<string, string>,
): Promise<Response> {
  const timeout = AbortSignal.timeout(within);
  const signal = init.signal ? AbortSignal.any([init.signal, timeout]) : timeout;
  // A key is never sent on to where an answer points.
  const all: Sent = { ...init, headers: { ...init.headers, ...headers }, signal, redirect: 'error' };
  const response = await fetch(url, all).catch((error: unknown) => {
    throw new ArchiveAway(`${new URL(url).host} cannot be reached: ${whyOf(error)}.`);
  });
  if (response.ok) return response;
  const problem = ProblemSchema.safeParse(await response.json().catch(() => null));
  const said = problem.success
    ? `${problem.data.error} ${problem.data.advice}`
    : `answered ${response.status}`;
  if (response.status === 401) throw new KeyRefused(said);
  if (response.status >= 500 || PASSING.has(response.status)) throw new ArchiveAway(said);
  throw new ArchiveRefused(said);
}

/** What fetch failed for: the cause says more than "fetch failed". */
function whyOf(error: unknown): string {
  if (error instanceof Error && error.name === 'TimeoutError') return 'it took too long';
  return messageOf(error instanceof Error && error.cause ? error.cause : error);
}
