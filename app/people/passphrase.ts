import { randomBytes, scrypt, timingSafeEqual, type ScryptOptions } from 'node:crypto';
import { z } from 'zod';

/**
 * The first scrypt setting of the OWASP Password Storage Cheat Sheet: N = 2^17 (128 MiB), r = 8 (1024 bytes), p = 1; from memory.
 */
const COST = { N: 2 ** 17, r: 8, p: 1 };
const SALT_BYTES = 16;
const KEY_BYTES = 32;

/** What is kept of a passphrase. The greatest costs taken keep a changed file from using up the machine. */
export const KeptPassphraseSchema = z.object({
  scheme: z.literal('scrypt'),
  N: z
    .number()
    .int()
    .min(2)
    .max(2 ** 20),
  r: z.number().int().min(1).max(16),
  p: z.number().int().min(1).max(4),
  /** Both in hexadecimal. */
  salt: z.string().regex(/^([0-9a-f]{2}){16,}$/),
  key: z.string().regex(/^[0-9a-f]{64}$/),
});
export type KeptPassphrase = z.infer<typeof KeptPassphraseSchema>;

/** What is kept of a passphrase: never itself. */
export async function keepPassphrase(passphrase: string): Promise<KeptPassphrase> {
  const salt = randomBytes(SALT_BYTES);
  const key = await keyOf(passphrase, salt, KEY_BYTES, COST);
  return { scheme: 'scrypt', ...COST, salt: salt.toString('hex'), key: key.toString('hex') };
}

/** Whether a passphrase is the one kept; takes equally long however much of it is right. */
export async function isPassphrase(passphrase: string, kept: KeptPassphrase): Promise<boolean> {
  const { N, r, p } = kept;
  const key = Buffer.from(kept.key, 'hex');
  return timingSafeEqual(
    key,
    await keyOf(passphrase, Buffer.from(kept.salt, 'hex'), key.length, { N, r, p }),
  );
}

/** scrypt (RFC 7914) of a text, in the one form of Unicode that all keyboards come to (NFKC). */
export function keyOf(
  text: string,
  salt: Buffer,
  bytes: number,
  cost: ScryptOptions & typeof COST,
): Promise<Buffer> {
  // It needs 128·N·r bytes and a little more; Node allows 32 MiB unless told.
  const maxmem = 2 * 128 * cost.N * cost.r;
  return new Promise((done, failed) =>
    scrypt(text.normalize('NFKC'), salt, bytes, { ...cost, maxmem }, (error, key) =>
      error ? failed(error) : done(key),
    ),
  );
}
