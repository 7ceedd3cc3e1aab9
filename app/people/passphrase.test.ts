import { describe, expect, it } from 'vitest';
import { isPassphrase, keepPassphrase, keyOf, KeptPassphraseSchema } from './passphrase.ts';

describe('a passphrase', () => {
  // RFC 7914, section 12, test vectors 2 and 3 (their first 32 bytes).
  it.each([
    ['password', 'NaCl', { N: 1024, r: 8, p: 16 }, 'fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162'],
    ['pleaseletmein', 'SodiumChloride', { N: 16384, r: 8, p: 1 }, '7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2'],
  ])('is made into a key by scrypt: %s', async (text, salt, cost, key) => {
    expect((await keyOf(text, Buffer.from(salt), 32, cost)).toString('hex')).toBe(key);
  }); // prettier-ignore

  it('is known again, and no other is', async () => {
    const kept = KeptPassphraseSchema.parse(
      JSON.parse(JSON.stringify(await keepPassphrase('seven pale lemons'))),
    );
    expect(await isPassphrase('seven pale lemons', kept)).toBe(true);
    expect(await isPassphrase('seven pale lemon', kept)).toBe(false);
    expect(await isPassphrase('', kept)).toBe(false);
    // OWASP Password Storage Cheat Sheet, from memory.
    expect(kept).toMatchObject({ N: 131072, r: 8, p: 1 });
  });

  it('is kept with a salt of its own each time', async () => {
    const [a, b] = await Promise.all([
      keepPassphrase('seven pale lemons'),
      keepPassphrase('seven pale lemons'),
    ]);
    expect(a.salt).not.toBe(b.salt);
    expect(a.key).not.toBe(b.key);
  });

  it('is the same however its letters are written', async () => {
    expect(await isPassphrase('cafe\u0301 au lait', await keepPassphrase('café au lait'))).toBe(true);
  });
});
