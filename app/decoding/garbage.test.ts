import { describe, expect, it } from 'vitest';
import { loopStart } from './garbage.ts';

const start = (text: string, ended: boolean): number | null => loopStart(text.split(' '), ended);

describe('loopStart', () => {
  it('finds a loop and keeps the run once', () => {
    expect(start('so I put it on and I put it on and I put it on and I put', false)).toBe(6);
    expect(start('Rub, rub, rub, rub', false)).toBe(1);
  });

  it('bears with people who repeat themselves', () => {
    expect(start('up and down, up and down, up and down, up and down', true)).toBeNull();
    expect(start('one two three', false)).toBeNull();
    expect(start('again again', false)).toBeNull();
    expect(start('', false)).toBeNull();
  });

  it('doubts even an ended text that says the same six times', () => {
    expect(start('of the of the of the of the of the of the hand', true)).toBe(2);
  });
});
