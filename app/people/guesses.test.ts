import { beforeEach, describe, expect, it } from 'vitest';
import { Guesses } from './guesses.ts';

let now = 0;
let guesses: Guesses;
beforeEach(() => {
  now = 1_000_000;
  guesses = new Guesses(() => now);
});

describe('guessing a passphrase', () => {
  it('must wait after each wrong one twice as long, up to a quarter of an hour', () => {
    const waits = Array.from({ length: 12 }, () => {
      now += guesses.take();
      guesses.take();
      return guesses.take();
    });
    expect(waits).toEqual([1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900].map((s) => s * 1000));
  });

  it('may be done the moment the wait is over, which begins when the last one was found wrong', () => {
    expect(guesses.take()).toBe(0);
    now += 400;
    guesses.wrong();
    now += 999;
    expect(guesses.take()).toBe(1);
    now += 1;
    expect(guesses.take()).toBe(0);
  });

  it('goes on at once after a right one', () => {
    guesses.take();
    now += 1000;
    guesses.take();
    guesses.right();
    expect(guesses.take()).toBe(0);
    expect(guesses.take()).toBe(1000);
  });
});
