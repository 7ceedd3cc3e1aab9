import fc from 'fast-check';
import { beforeAll, describe, expect, it } from 'vitest';
import { loadModel } from '../../models/load.ts';
import { Tokens } from './tokens.ts';

let tokens: Tokens;
beforeAll(async () => {
  tokens = new Tokens((await loadModel('moonshine')).files.get('tokenizer.bin')!);
});

describe('Tokens', () => {
  it('gives back any text it splits, white space made single', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'grapheme' }), (text) => {
        // The vocabulary's own sign for a space cannot be told from one.
        const plain = text.replaceAll('▁', ' ').trim().replace(/\s+/g, ' ');
        expect(tokens.decode(tokens.encode(plain))).toBe(plain.replace(/^ | $/g, ''));
      }),
    );
  });

  it('splits as the model writes', () => {
    // What the recogniser gave for these words.
    const ids = tokens.encode('Good morning, my name is Dana');
    expect(ids.map((id) => tokens.decode([id]))).toEqual([
      'Good',
      'morning',
      ',',
      'my',
      'name',
      'is',
      'D',
      'ana',
    ]);
    expect(ids.map((id) => tokens.beginsWord(id))).toEqual([
      true,
      true,
      false,
      true,
      true,
      true,
      true,
      false,
    ]);
  });

  it('adds nothing for begin, end and ids beyond the table', () => {
    expect(tokens.decode([1, ...tokens.encode('hand'), 2, tokens.size + 5])).toBe('hand');
  });

  it('refuses a table that breaks off or is too short', () => {
    expect(() => new Tokens(Uint8Array.of(5, 65, 66))).toThrow('breaks off');
    expect(() => new Tokens(Uint8Array.of(200))).toThrow('breaks off');
    expect(() => new Tokens(new Uint8Array(0))).toThrow('too short');
  });
});
