import { createHash, randomBytes } from 'node:crypto';

/** What an account or a station shows with every request: 256 random bits. Only its hash is kept, so it is shown once. */
export const newSecret = (): string => randomBytes(32).toString('base64url');

/** SHA-256 as lower-case hex. Slow hashing is for words that people choose; nobody guesses 256 random bits. */
export const hashOf = (secret: string): string => createHash('sha256').update(secret).digest('hex');

/** Letters and digits that are not taken for each other when they are read out. */
const LETTERS = 'ABCDEFGHJKMNPQRSTVWXYZ23456789';
const CODE_LENGTH = 16;
const GROUP = /.{4}(?=.)/g;

/** A code that people type: 78 random bits, in groups of four. It works for a day, and wrong ones are slowed down. */
export function newCode(): string {
  let code = '';
  while (code.length < CODE_LENGTH)
    // What would make some letters more likely than others is thrown away.
    for (const byte of randomBytes(CODE_LENGTH))
      if (byte < 8 * LETTERS.length) code += LETTERS[byte % LETTERS.length];
  return code.slice(0, CODE_LENGTH).replace(GROUP, '$&-');
}

/** The hash of a code as it was typed, whatever case and dashes. */
export const hashOfCode = (typed: string): string => hashOf(typed.toUpperCase().replace(/[^A-Z0-9]/g, ''));
