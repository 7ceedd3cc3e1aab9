import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { loadModel } from '../../models/load.ts';
import { amplify } from '../../tests/speech/level.ts';
import { makeNoise } from '../../tests/speech/noise.ts';
import type { Utterance } from '../language/utterance.ts';
import type { Listener, ListenerEvent } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { createListener, type ListenerOptions } from './offlineListener.ts';
import { openSound } from '../sound/soundFile.ts';

const detector = readFileSync(
  fileURLToPath(import.meta.resolve('@ricky0123/vad-web/dist/silero_vad_v5.onnx')),
);
let folder: string;
let model: ListenerOptions['model'];
let listener: Listener;
let events: ListenerEvent[];

const utterances = (): Utterance[] => events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));

/** Speaks a line with a robotic voice; `said` is where it lies between the silences around it, in seconds. */
async function speak(text: string, silence = 1): Promise<{ samples: Float32Array; said: [number, number] }> {
  const file = path.join(folder, 'line.wav');
  const marks = execFileSync('flite', ['-voice', 'slt', '-psdur', '-t', text, '-o', file], {
    encoding: 'utf8',
  });
  const pieces: Float32Array[] = [];
  for await (const piece of (await openSound(file)).chunks) pieces.push(piece.slice());
  const edge = new Float32Array(silence * SAMPLE_RATE);
  // flite names each sound with the time it ends at; its own pauses stand at both ends.
  const ends = marks
    .trim()
    .split(/\s+/)
    .map((mark) => Number(mark.split(':')[1]));
  return { samples: join([edge, ...pieces, edge]), said: [silence + ends[0]!, silence + ends.at(-2)!] };
}

function join(pieces: readonly Float32Array[]): Float32Array {
  const all = new Float32Array(pieces.reduce((sum, { length }) => sum + length, 0));
  let at = 0;
  for (const piece of pieces) {
    all.set(piece, at);
    at += piece.length;
  }
  return all;
}

async function hear(samples: Float32Array, phrases: readonly string[] = []): Promise<Utterance[]> {
  await listener.start({ phrases });
  for (let at = 0; at < samples.length; at += 4000) await listener.feed(samples.subarray(at, at + 4000));
  await listener.stop();
  return utterances();
}

beforeAll(async () => {
  folder = mkdtempSync(path.join(tmpdir(), 'sinkside-listener-'));
  model = (await loadModel('moonshine')).files;
  listener = await createListener({ model, detector, onEvent: (event) => events.push(event) });
}, 60_000);
afterAll(() => rmSync(folder, { recursive: true }));
beforeEach(() => {
  events = [];
});

describe('the offline listener', () => {
  it('writes down what is said and when', async () => {
    const { samples, said } = await speak('Now I rinse my hands with the fingers pointing down.');
    const [utterance, ...more] = await hear(samples);
    expect(more).toEqual([]);
    expect(utterance!.text).toMatch(/^Now I rinse my hands with the fingers pointing down\.?$/);
    expect(Math.abs(utterance!.start - said[0])).toBeLessThan(0.15);
    expect(Math.abs(utterance!.end - said[1])).toBeLessThan(0.15);
    expect(utterance!.confidence).toBeGreaterThan(0.6);
    expect(utterance!.words.map((w) => w.text.toLowerCase())).toEqual(
      'now i rinse my hands with the fingers pointing down'.split(' '),
    );
    for (const { confidence } of utterance!.words) expect(confidence).toBeGreaterThan(0.3);
    expect(utterance!.numbers).toEqual([]);
    expect(events.map((e) => e.type)).toEqual(['speech', 'utterance']);
  });

  it('counts utterances up and starts again', async () => {
    const { samples } = await speak('The bed is low.');
    const twice = join([samples, samples]);
    expect((await hear(twice)).map(({ id }) => id)).toEqual([0, 1]);
    events = [];
    const [again] = await hear(samples);
    expect(again!.id).toBe(0);
    expect(again!.end).toBeLessThan(samples.length / SAMPLE_RATE);
  });

  it('leans towards the phrases it is given', async () => {
    const { samples } = await speak('I lower the bed rail.');
    const plain = (await hear(samples))[0]?.text.toLowerCase() ?? '';
    events = [];
    const leaning = (await hear(samples, ['bed rail']))[0]?.text.toLowerCase() ?? '';
    expect(plain).not.toContain('bed rail');
    expect(leaning).toContain('bed rail');
  });

  it('weighs numbers, and is not sure of one that the sound does not settle', async () => {
    const { samples } = await speak('I counted eighteen breaths.');
    const [utterance] = await hear(samples);
    const [number] = utterance!.numbers!;
    expect(number!.value).toBe(18);
    expect(number!.share + number!.rivals.reduce((sum, r) => sum + r.share, 0)).toBeLessThanOrEqual(1.000001);
    expect(number!.share).toBeGreaterThan(0.9);
    expect(
      utterance!.words
        .slice(number!.from, number!.to)
        .map((w) => w.text.toLowerCase())
        .join(' '),
    ).toMatch(/^(18|eighteen)$/);
  });

  it('finds the end of a word inside an utterance', async () => {
    const { samples } = await speak(
      'I am scrubbing my hands and then my wrists and after that I rinse it all off.',
    );
    const [utterance] = await hear(samples);
    const index = utterance!.words.findIndex((w) => w.text === 'scrubbing');
    const finer = await listener.pinpoint(utterance!, [index]);
    const [coarse, fine] = [utterance!.words[index]!, finer.words[index]!];
    expect(fine.uncertainty).toBeLessThan(coarse.uncertainty);
    // 1 s of silence and flite's own mark for the end of its last sound.
    expect(Math.abs(fine.end - 2.115)).toBeLessThan(fine.uncertainty);
    expect(finer.text).toBe(utterance!.text);
    expect(await listener.pinpoint({ ...utterance!, id: 99 }, [0])).toEqual({ ...utterance!, id: 99 });
  });

  const half = 30 * SAMPLE_RATE;
  it.each<[string, () => Float32Array | Promise<Float32Array>]>([
    ['silence', () => new Float32Array(half)],
    ['pink noise', () => makeNoise('pink', half, 1, 'flite-slt')],
    ['a running tap', async () => amplify(await makeNoise('tap', half, 1, 'flite-slt'), -6)],
    [
      'hum',
      () =>
        Float32Array.from({ length: half }, (_, i) => 0.2 * Math.sin((2 * Math.PI * 100 * i) / SAMPLE_RATE)),
    ],
    [
      'clapping',
      () =>
        Float32Array.from({ length: half }, (_, i) => 0.8 * Math.sin(i * i) * Math.exp(-(i % 8000) / 200)),
    ],
  ])('hears no words in half a minute of %s', async (_, sound) => {
    expect(await hear(await sound())).toEqual([]);
  });

  it('takes any samples', async () => {
    const { samples } = await speak('Now I rinse my hands with the fingers pointing down.');
    await listener.start({ phrases: [''] });
    await listener.feed(new Float32Array(0));
    await listener.feed(Float32Array.of(NaN, Infinity, -Infinity, 7, -7));
    await listener.feed(samples.map((x, i) => (i === 4000 ? NaN : x)));
    await listener.stop();
    await listener.stop();
    expect(utterances()[0]!.text).toMatch(/rinse my hands/);
    expect(events.filter((e) => e.type === 'trouble')).toEqual([]);
  });

  it('sends partial texts when asked to', async () => {
    const partly = await createListener({ model, detector, partials: true, onEvent: (e) => events.push(e) });
    const { samples } = await speak('I wet my hands and my wrists under warm water.');
    await partly.start({ phrases: [] });
    for (let at = 0; at < samples.length; at += 1600) await partly.feed(samples.subarray(at, at + 1600));
    await partly.stop();
    const partials = events.flatMap((e) => (e.type === 'partial' ? [e] : []));
    expect(partials.length).toBeGreaterThanOrEqual(2);
    expect(partials.at(-1)!.text).toMatch(/wet my hands/);
    // Where sound waits, the machine has no time for that.
    events = [];
    await partly.start({ phrases: [] });
    const pieces = Array.from({ length: Math.ceil(samples.length / 1600) }, (_, i) =>
      samples.subarray(1600 * i),
    );
    await Promise.all(pieces.map((piece) => partly.feed(piece.subarray(0, 1600))));
    await partly.stop();
    expect(events.map(({ type }) => type)).toEqual(['speech', 'utterance']);
    // What is recognised before its end is sure is what would have been recognised then.
    const whole = utterances();
    events = [];
    expect(await hear(samples)).toEqual(whole);
  }, 60_000);

  it('refuses a model that is none', async () => {
    const broken = { ...model, encoder: Uint8Array.of(1, 2, 3) };
    await expect(createListener({ model: broken, detector, onEvent: () => undefined })).rejects.toThrow();
  });
});
