import { describe, expect, it } from 'vitest';
import { SAMPLE_RATE } from '../../app/sound/sampleRate.ts';
import { activeLevel, trimSilence } from './level.ts';
import { asScript, loadNarrations, type Line } from './narration.ts';
import { synthesize } from './synthesize.ts';
import { SPOKEN_LEVEL } from './voices.ts';

function script(...lines: (Partial<Line> & { say: string })[]) {
  const plain = asScript({
    id: 'test',
    note: '',
    lines: lines.map((l) => ({ say: l.say, by: 'trainee', pause: 1 })),
  });
  return { id: 'test', lines: plain.lines.map((line, i) => ({ ...line, ...lines[i] })) };
}
const VOICE = 'flite-slt';

describe('a spoken script', () => {
  it('has each line’s sound where its times say', async () => {
    const { samples, lines } = await synthesize(
      script({ say: 'Some soap.', pause: 2 }, { say: 'And rinse.', pause: 0.5 }),
      VOICE,
    );
    expect(lines[0]!.start).toBe(1);
    expect(lines[1]!.start - lines[0]!.end).toBeCloseTo(2, 4);
    for (const { start, end } of lines) {
      const sound = samples.subarray(start * SAMPLE_RATE, Math.round(end * SAMPLE_RATE));
      expect(trimSilence(sound).length).toBe(sound.length);
      expect(activeLevel(sound)).toBeCloseTo(SPOKEN_LEVEL, 1);
    }
    expect(activeLevel(samples.subarray(0, SAMPLE_RATE))).toBe(-Infinity);
    expect(samples.length / SAMPLE_RATE - lines[1]!.end).toBeCloseTo(1.5, 4);
  });

  it('times a clock from the end of the start to the start of the stop, holds left out', async () => {
    const { lines, clocks } = await synthesize(
      script(
        { say: 'Scrubbing now.', starts: 'scrub', pause: 3 },
        { say: 'Nails.', holds: 'scrub', pause: 4 },
        { say: 'Scrubbing again.', resumes: 'scrub', fills: { scrub: 7.5 } },
        { say: 'Stop.', stops: 'scrub' },
      ),
      VOICE,
    );
    const [first, hold, resumed, stop] = lines;
    expect(hold!.start - first!.end + (stop!.start - resumed!.end)).toBeCloseTo(7.5, 3);
    expect(clocks.get('scrub')).toBeCloseTo(7.5, 3);
  });

  it('refuses to fill a clock that the talk has overrun', async () => {
    const overrun = script(
      { say: 'Scrubbing now.', starts: 'scrub', pause: 3 },
      { say: 'Still at it.', fills: { scrub: 2 } },
      { say: 'Stop.', stops: 'scrub' },
    );
    await expect(synthesize(overrun, VOICE)).rejects.toThrow('left to fill up to 2 s');
  });

  it('sums repetitions and keeps the number said', async () => {
    const { counts, readings } = await synthesize(
      script(
        { say: 'Bend, one.', counts: { bend: 1 } },
        { say: 'Bend, two, three.', counts: { bend: 2 } },
        { say: 'I write sixteen.', credits: ['record'], reading: 16 },
      ),
      VOICE,
    );
    expect(counts).toEqual(new Map([['bend', 3]]));
    expect(readings).toEqual(new Map([['record', 16]]));
  });

  it('is the same every time', async () => {
    const once = script({ say: 'Some soap.' }, { say: 'Did you wash your hands?', by: 'other' });
    expect((await synthesize(once, VOICE)).samples).toEqual((await synthesize(once, VOICE)).samples);
  });

  it('lets a second person speak in another voice, more softly', async () => {
    const both = script({ say: 'Wash your hands.' }, { say: 'Wash your hands.', by: 'other' });
    const { samples, lines } = await synthesize(both, VOICE);
    const [own, other] = lines.map(({ start, end }) =>
      samples.slice(start * SAMPLE_RATE, Math.round(end * SAMPLE_RATE)),
    );
    expect(activeLevel(own!) - activeLevel(other!)).toBeCloseTo(3, 1);
    expect(other!.length).not.toBe(own!.length);
  });
});

describe('the narrations, spoken', () => {
  it('run their clocks for as long as their fills say', async () => {
    const narration = (await loadNarrations()).find((n) => n.id === 'hw-07-nails-in-the-middle')!;
    expect((await synthesize(narration, VOICE)).clocks.get('scrub')).toBeCloseTo(19.5, 3);
  });
});
