import { describe, expect, it } from 'vitest';
import {
  judgeSound,
  levelOf,
  noiseFloor,
  sentenceScore,
  SILENCE,
  speechLevel,
  TEST_SENTENCE,
  type Level,
} from './soundCheck.ts';

const sine = (amplitude: number): Float32Array =>
  Float32Array.from({ length: 1600 }, (_, i) => amplitude * Math.sin((2 * Math.PI * 440 * i) / 16_000));

const at = (rms: number, more: Partial<Level> = {}): Level => ({ rms, peak: rms + 12, clipped: 0, ...more });
const many = (level: Level, count = 30): Level[] => new Array<Level>(count).fill(level);

describe('levels', () => {
  it('gives a full-scale sine −3 dBFS, and half its amplitude 6 dB less', () => {
    expect(levelOf(sine(0.998)).rms).toBeCloseTo(-3.03, 1);
    expect(levelOf(sine(0.499)).rms).toBeCloseTo(-9.05, 1);
    expect(levelOf(sine(0.5)).peak).toBeCloseTo(-6.02, 1);
  });

  it('has a lowest level for silence and for nothing', () => {
    expect(levelOf(new Float32Array(1600))).toEqual({ rms: SILENCE, peak: SILENCE, clipped: 0 });
    expect(levelOf(new Float32Array(0)).rms).toBe(SILENCE);
  });

  it('counts samples at full scale as clipped', () => {
    expect(levelOf(Float32Array.of(1, -1, 0.5, 0)).clipped).toBe(0.5);
    expect(levelOf(sine(0.9)).clipped).toBe(0);
  });

  it('takes the floor without the one loud knock, and speech without its pauses', () => {
    expect(noiseFloor([...many(at(-60), 29), at(-10)])).toBe(-60);
    expect(speechLevel([...many(at(-60), 15), ...many(at(-25), 15)])).toBe(-25);
    expect(noiseFloor([])).toBeNull();
  });
});

describe('the test sentence', () => {
  it('scores words in their order, whatever their capitals and stops', () => {
    expect(sentenceScore(TEST_SENTENCE, TEST_SENTENCE.toUpperCase().replace(/[.,]/g, '!'))).toBe(1);
    expect(sentenceScore('one two three four', 'four one three')).toBe(0.5);
    expect(sentenceScore('one two', '')).toBe(0);
  });
});

describe('the verdict', () => {
  const good = { quiet: many(at(-60)), spoken: many(at(-25)), heard: TEST_SENTENCE };

  it('is good over a quiet tap', () => expect(judgeSound(good).kind).toBe('good'));

  it('sends the microphone closer when the tap drowns the voice', () => {
    const verdict = judgeSound({ ...good, quiet: many(at(-28)) });
    expect(verdict.kind).toBe('noisy');
    expect(verdict.text).toMatch(/tap is too loud .* move it closer/);
  });

  it('tells a dead microphone from a quiet voice', () => {
    const dead = many({ rms: SILENCE, peak: SILENCE, clipped: 0 });
    expect(judgeSound({ quiet: dead, spoken: dead, heard: '' }).kind).toBe('no sound');
    expect(judgeSound({ quiet: [], spoken: [], heard: '' }).kind).toBe('no sound');
    expect(judgeSound({ quiet: many(at(-70)), spoken: many(at(-68)), heard: '' }).kind).toBe('too quiet');
    expect(judgeSound({ quiet: many(at(-80)), spoken: many(at(-55)), heard: '' }).kind).toBe('too quiet');
  });

  it('hears clipping even when every word was understood', () => {
    expect(judgeSound({ ...good, spoken: many(at(-5, { peak: 0, clipped: 0.02 })) }).kind).toBe('too loud');
  });

  it('says that it heard no words where nothing could recognise them', () => {
    expect(judgeSound({ ...good, heard: null }).text).toMatch(/Words were not checked/);
  });

  it('does not call it good when words were lost or the tap is near', () => {
    expect(judgeSound({ ...good, heard: 'I try my hands' }).kind).toBe('unclear');
    expect(judgeSound({ ...good, heard: '' }).text).toMatch(/no words were recognised/);
    expect(judgeSound({ ...good, quiet: many(at(-33)) }).kind).toBe('fair');
    expect(judgeSound({ ...good, heard: TEST_SENTENCE.replace('call light', 'collide') }).kind).toBe('fair');
  });
});
