import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { zipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openKaldi } from '../../../app/streaming/kaldi.ts';
import type { ListenerEvent } from '../../../app/listening/listener.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { packagedFiles } from '../../../app/engines/packaged.ts';
import { Silero } from '../../../app/sound/silero.ts';
import { StreamingListener, type StreamingModel } from '../../../app/streaming/streamingListener.ts';
import { AssessmentSchema } from '../../../app/marking/assessment.ts';
import type { Utterance } from '../../../app/language/utterance.ts';
import type { Line } from '../narration.ts';
import { makeNoise } from '../noise.ts';
import { writeWav } from '../sound.ts';
import { SYNTHETIC, syntheticModel } from '../syntheticModel.ts';
import { synthesize, type Spoken } from '../synthesize.ts';
import { callCli } from '../../callCli.ts';

/** The streaming engine with its real decoder and the model that comes with the program, in Node. */

const line = (say: string, rest: Partial<Line> = {}): Line => ({
  say,
  by: 'trainee',
  pause: 0.8,
  credits: [],
  either: [],
  counts: {},
  ...rest,
});

let folder: string;
let spoken: Spoken;
const file = (name: string): string => path.join(folder, name);

beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-streaming-'));
  spoken = await synthesize(
    {
      id: 'streamed',
      lines: [
        line('Good morning, my name is Maria and I am your nurse aide today.'),
        line('I turn on the warm water.'),
        line('I wet my hands and wrists.'),
        line('I take some soap.'),
        line('I rub my palms together.', { starts: 'scrub', fills: { scrub: 19 } }),
        line('Now I clean under my nails.', { stops: 'scrub' }),
        line('I rinse from my wrists down to my fingertips.'),
        line('I dry my hands with a clean paper towel from the fingertips up.'),
      ],
    },
    'flite-slt',
  );
  await writeWav(file('said.wav'), spoken.samples);
});
afterAll(() => rm(folder, { recursive: true }));

const assess = (...args: string[]) => callCli('assess', file('said.wav'), '--skill', 'hand-washing', ...args);

describe('the streaming engine', () => {
  it('hears a hand wash in the terminal, and does not pass a scrub of 19 s', async () => {
    const { code, out, err } = await assess('--engine', 'vosk', '--json');
    expect([code, err]).toEqual([0, '']);
    const { engine, steps, clocks, utterances, result } = AssessmentSchema.parse(JSON.parse(out));
    expect(engine).toBe(`vosk/${SYNTHETIC}`);
    const outcomes = Object.fromEntries(steps.map((step) => [step.id, step.outcome]));
    expect(outcomes).toMatchObject({
      'greet': 'heard', 'warm-water': 'heard', 'wet': 'heard', 'soap': 'heard', 'nails': 'heard', 'rinse': 'heard',
      'dry': 'heard', 'scrub': 'not heard', 'lather': 'not heard', 'tap-off': 'not heard',
    }); // prettier-ignore
    expect(Math.abs(clocks[0]!.seconds - spoken.clocks.get('scrub')!)).toBeLessThan(0.3);
    expect(clocks[0]!.met).toBe(false);
    expect(result.passed).toBe(false);
    // One utterance a line, from its first word to its last, and it lies where the line does.
    expect(utterances.length).toBe(spoken.lines.length);
    for (const [i, { start, end }] of spoken.lines.entries()) {
      expect(Math.abs(utterances[i]!.start - start)).toBeLessThan(0.15);
      expect(Math.abs(utterances[i]!.end - end)).toBeLessThan(0.15);
    }
  });

  it('listens with the usual models where both engines do', async () => {
    const { code, err } = await assess('--engine', 'both', '--model', SYNTHETIC);
    expect(code).toBe(2);
    expect(err).toMatch(/leave --model out/);
  });

  it('says what is wrong with a model, and ends with 4', async () => {
    const { files } = await syntheticModel();
    const archive = zipSync(Object.fromEntries(files));
    const rubbish = zipSync({ ...Object.fromEntries(files), 'am/final.mdl': new Uint8Array(99).fill(65) });
    await writeFile(file('short.zip'), archive.subarray(0, archive.length / 2));
    await writeFile(file('rubbish.zip'), rubbish);
    for (const [name, message] of [
      ['nowhere.zip', /no speech model ".*nowhere\.zip"/],
      ['short.zip', /short\.zip cannot be used: it is damaged or not whole/],
      ['rubbish.zip', /rubbish cannot be opened: Kaldi: .*<TransitionModel>/],
    ] as const) {
      const { code, out, err } = await assess('--engine', 'vosk', '--model', file(name), '--json');
      expect([code, out], name).toEqual([4, '']);
      expect(err).toMatch(message);
    }
  });
});

describe('the streaming listener with its decoder', () => {
  let model: StreamingModel;
  let heapBytes: () => number;
  let listener: StreamingListener;
  let events: ListenerEvent[];
  beforeAll(async () => {
    model = await syntheticModel();
    const kaldi = await openKaldi(model.runtime, model.files);
    ({ heapBytes } = kaldi);
    const silero = await Silero.open(await readFile(packagedFiles().detector));
    listener = new StreamingListener(kaldi, silero, (event) => void events.push(event), true);
  });

  async function hear(samples: Float32Array): Promise<Utterance[]> {
    events = [];
    await listener.start({ phrases: ['i wet my hands and wrists', 'take some soap', 'rinse them off'] });
    for (let at = 0; at < samples.length; at += 4000) await listener.feed(samples.subarray(at, at + 4000));
    await listener.stop();
    return events.flatMap((e) => (e.type === 'utterance' ? [e.utterance] : []));
  }

  const length = 20 * SAMPLE_RATE;
  it.each<[string, () => Float32Array | Promise<Float32Array>]>([
    ['silence', () => new Float32Array(length)],
    ['pink noise', () => makeNoise('pink', length, 1, 'flite-slt')],
    ['a running tap', () => makeNoise('tap', length, 1, 'flite-slt')],
    [
      'clapping',
      () => Float32Array.from({ length }, (_, i) => 0.8 * Math.sin(i * i) * Math.exp(-(i % 8000) / 200)),
    ],
  ])('hears no words in %s', async (_, sound) => {
    expect(await hear(await sound())).toEqual([]);
  });

  it('takes any samples', async () => {
    await listener.start({ phrases: [] });
    await listener.feed(Float32Array.of(NaN, Infinity, -Infinity, 7, -7));
    const { start, end } = spoken.lines[2]!;
    const samples = spoken.samples.slice((start - 0.5) * SAMPLE_RATE, (end + 0.6) * SAMPLE_RATE);
    samples[9000] = NaN;
    const [utterance] = await hear(samples);
    expect([utterance!.text, utterance!.second?.text]).toEqual(Array(2).fill('i wet my hands and wrists'));
    expect(events.filter((e) => e.type === 'trouble')).toEqual([]);
  });

  it('takes no more memory after twenty rehearsals than after five', async () => {
    const { start, end } = spoken.lines[3]!;
    const samples = spoken.samples.slice((start - 0.3) * SAMPLE_RATE, (end + 0.5) * SAMPLE_RATE);
    const taken: number[] = [];
    for (let round = 0; round < 20; round++) {
      const [utterance] = await hear(samples);
      expect(utterance?.text).toBe('i take some soap');
      expect(utterance?.second?.text).toContain('take some soap');
      taken.push(heapBytes());
    }
    expect(taken[19]).toBe(taken[4]);
  }, 180_000);
});
