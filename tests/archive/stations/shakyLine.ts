import { connect, createServer, type AddressInfo, type Socket } from 'node:net';

/** A line to a server, on which connections break off. */
export interface ShakyLine {
  /** http://127.0.0.1:PORT */
  readonly address: string;
  /** How many connections it has broken off. */
  readonly broken: () => number;
  close(): Promise<void>;
}

/** What a line does: one connection in so many breaks off, after up to so many bytes in either direction. */
export interface Shakiness {
  /** 0 for never, 1 for always. */
  readonly share: number;
  readonly within: number;
  /** 0 to 1, less than 1. */
  readonly random: () => number;
}

/**
 * A line to a server on this machine. To the server its connections come from an address of their own below 127.0.0.0/8, as a school's
 * do (Linux answers at all of them).
 *
 * @param from the address, such as `127.0.3.1`
 */
export async function shakyLine(port: number, from: string, shakiness: Shakiness): Promise<ShakyLine> {
  let broken = 0;
  const open = new Set<Socket>();
  const server = createServer((client) => {
    const upstream = connect({ port, host: '127.0.0.1', localAddress: from });
    const both = [client, upstream];
    const end = (): void => both.forEach((socket) => socket.destroy());
    for (const socket of both) {
      open.add(socket);
      socket.on('error', end).on('close', () => {
        open.delete(socket);
        end();
      });
    }
    client.pipe(upstream);
    upstream.pipe(client);
    if (shakiness.random() >= shakiness.share) return;
    let left = Math.floor(shakiness.random() * shakiness.within);
    const count = (piece: Buffer): void => {
      left -= piece.length;
      if (left > 0 || client.destroyed) return;
      broken += 1;
      // As a cable that is pulled: no orderly end.
      client.resetAndDestroy();
      upstream.resetAndDestroy();
    };
    client.on('data', count);
    upstream.on('data', count);
  });
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done));
  const address = server.address() as AddressInfo;
  return {
    address: `http://127.0.0.1:${address.port}`,
    broken: () => broken,
    close: () =>
      new Promise((done) => {
        for (const socket of open) socket.destroy();
        server.close(() => done());
      }),
  };
}
