import { createServer, type Server } from 'node:http';
import { createServer as createTlsServer } from 'node:https';
import type { AddressInfo } from 'node:net';
import { getRequestListener } from '@hono/node-server';
import { messageOf } from '../../faults/faults.ts';
import { deleteExpired } from '../taking/deletions.ts';
import type { Taking } from '../taking/takeIn.ts';
import { archiveApp } from './app.ts';
import { USUAL_LIMITS, type Limits } from './gate/limits.ts';

/** The port that is taken where none is given. */
export const ARCHIVE_PORT = 4518;

export interface ServeOptions {
  /** The address to listen at; loopback by default. */
  readonly host?: string | undefined;
  /** 0 for any. */
  readonly port?: number | undefined;
  /** The certificate and its key, as PEM. */
  readonly tls?: { readonly cert: string; readonly key: string } | undefined;
  /** A proxy in front has the certificate, and tells in x-forwarded-for whom it asks for. */
  readonly isBehindProxy?: boolean;
  readonly limits?: Limits;
  /** The folder of the built screens, the archive's page among them. */
  readonly screens?: string | undefined;
  readonly warn: (message: string) => void;
}

/** The archive is not served so that others could reach it. */
export class NotSafe extends Error {
  override readonly name = 'NotSafe';
}

export interface ArchiveServer {
  readonly url: string;
  readonly port: number;
  close(): Promise<void>;
}

/** How often what need not be kept any longer is looked for: an hour, ms. */
const EXPIRE_EVERY = 3_600_000;

/**
 * Serves an archive over HTTP. Rejects as node:net does when the port is taken.
 *
 * @throws {NotSafe} it could be reached from other machines without TLS, or nobody is there to answer for it
 */
export async function serveArchive(taking: Taking, options: ServeOptions): Promise<ArchiveServer> {
  const { host = '127.0.0.1', port = ARCHIVE_PORT, tls, isBehindProxy = false, warn, screens } = options;
  await checkSafe(taking, { host, tls, isBehindProxy });
  const isOverTls = tls !== undefined || isBehindProxy;
  const app = archiveApp(taking, {
    limits: options.limits ?? USUAL_LIMITS,
    isOverTls,
    isBehindProxy,
    warn,
    screens,
  });
  // Left to Node and `withUpload`: the adapter cuts off a sender that is slower than half a second.
  const answer = getRequestListener(app.fetch, { autoCleanupIncoming: false });
  const server = tls ? createTlsServer(tls, answer) : createServer(answer);
  await listen(server, port, host);
  const stopExpiring = expireHourly(taking, warn);
  const taken = (server.address() as AddressInfo).port;
  const name = host.includes(':') ? `[${host}]` : host;
  return {
    url: `${tls ? 'https' : 'http'}://${name}:${taken}/`,
    port: taken,
    close: async () => {
      const closed = new Promise((done) => server.close(done));
      server.closeIdleConnections();
      await closed;
      await stopExpiring();
    },
  };
}

/** Deletes what need not be kept any longer, now and every hour, until the function it gives is called. */
function expireHourly({ archive, parts }: Taking, warn: (message: string) => void): () => Promise<void> {
  const expire = (): Promise<void> =>
    deleteExpired(archive, parts, new Date()).then(
      () => undefined,
      (error: unknown) => warn(`What need not be kept any longer was not deleted: ${messageOf(error)}`),
    );
  let going = expire();
  const timer = setInterval(() => void (going = going.then(expire)), EXPIRE_EVERY);
  return () => {
    clearInterval(timer);
    return going;
  };
}

const isLoopback = (host: string): boolean => /^(localhost|127(\.\d+){3}|::1)$/.test(host);

/** Throws {@link NotSafe}. */
async function checkSafe(
  { archive }: Taking,
  { host, tls, isBehindProxy }: Pick<ServeOptions, 'tls'> & { host: string; isBehindProxy: boolean },
): Promise<void> {
  if (isLoopback(host) && !isBehindProxy) return;
  if (!tls && !isBehindProxy)
    throw new NotSafe(
      `At ${host} other machines could listen in: give a certificate (--cert and --key), or say --behind-proxy where a proxy has one.`,
    );
  const school = await archive.as({ role: 'keeper' }, (db) =>
    db
      .selectFrom('accounts')
      .select('id')
      .where('role', '=', 'school')
      .where('revoked_at', 'is', null)
      .executeTakeFirst(),
  );
  if (!school)
    throw new NotSafe(
      'No account of a school is there to answer for it: make one first, with "sinkside archive account add".',
    );
}

function listen(server: Server, port: number, host: string): Promise<void> {
  return new Promise((done, failed) => {
    server.once('error', failed);
    server.listen(port, host, () => {
      server.off('error', failed);
      done();
    });
  });
}
