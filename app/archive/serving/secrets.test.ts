import { describe, expect, it } from 'vitest';
import { hashOf, hashOfCode, newCode, newSecret } from './secrets.ts';

describe('a code that people type', () => {
  it('has sixteen letters that nobody mixes up, and may be typed in any way', () => {
    const codes = Array.from({ length: 200 }, newCode);
    expect(new Set(codes).size).toBe(codes.length);
    for (const code of codes) expect(code).toMatch(/^([A-HJKMNP-TV-Z2-9]{4}-){3}[A-HJKMNP-TV-Z2-9]{4}$/);
    const [code = ''] = codes;
    expect(hashOfCode(` ${code.toLowerCase().replaceAll('-', ' ')} `)).toBe(hashOfCode(code));
    // Every letter comes about as often: 3,200 letters of 30 kinds, each some 107 times, 9 standard deviations either way.
    const letters = codes.join('').replaceAll('-', '');
    for (const letter of new Set(letters)) {
      const times = letters.split(letter).length - 1;
      expect(times).toBeGreaterThan(107 - 9 * 10.2);
      expect(times).toBeLessThan(107 + 9 * 10.2);
    }
  });
});

describe('a token', () => {
  it('has 256 bits, and its hash is SHA-256', () => {
    expect(Buffer.from(newSecret(), 'base64url')).toHaveLength(32);
    // FIPS 180-4, the example of one block, "abc".
    expect(hashOf('abc')).toBe('ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad');
  });
});
