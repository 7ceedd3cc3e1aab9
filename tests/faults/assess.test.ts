import { copyFile, mkdir, mkdtemp, open, readFile, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { AssessmentSchema, type Assessment } from '../../app/marking/assessment.ts';
import { modelsHome } from '../../models/verify.ts';
import { DEFAULT_MODEL } from '../../models/catalog.ts';
import { readSamples, writeWav } from '../speech/sound.ts';
import { callCli } from '../callCli.ts';

/** `sinkside assess` on bad and odd input: one clear message, the right exit code, never a stack trace. */

const DEMO = new URL('../../skills/demo/hand-washing.wav', import.meta.url).pathname;
let folder = '';
const file = (name: string): string => path.join(folder, name);

const assess = (...args: string[]) => callCli('assess', ...args);
const document = (out: string): Assessment => AssessmentSchema.parse(JSON.parse(out));

/** The first sentence of the demo: enough to be heard, short enough to be quick. */
let greeting: Float32Array;

beforeAll(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-faults-'));
  greeting = (await readSamples(DEMO)).slice(0, 6 * 16_000);
  await writeWav(file('greeting.wav'), greeting);
});
afterAll(() => rm(folder, { recursive: true }));

/** A WAV header for `seconds` of silence, the sound itself left as a hole in the file. */
async function sparseWav(name: string, seconds: number): Promise<string> {
  await writeWav(file(name), new Float32Array(0));
  const bytes = seconds * 32_000;
  const head = await readFile(file(name));
  head.writeUInt32LE(36 + bytes, 4);
  head.writeUInt32LE(bytes, 40);
  await writeFile(file(name), head);
  const handle = await open(file(name), 'r+');
  await handle.truncate(44 + bytes);
  await handle.close();
  return file(name);
}

describe('a recording', () => {
  it.each<[string, () => Promise<string>, RegExp]>([
    ['that is not there', () => Promise.resolve(file('nothing.wav')), /nothing\.wav/],
    ['that is a folder', () => Promise.resolve(folder), /folder|directory/],
    ['that is empty', async () => (await writeFile(file('empty.wav'), ''), file('empty.wav')), /empty/],
    ['that is text', async () => (await writeFile(file('text.wav'), 'Dear diary, no sound.'), file('text.wav')), /text\.wav/],
    ['of three hours', () => sparseWav('long.wav', 3 * 3600), /2 hours/],
    ['with a header only', () => sparseWav('header.wav', 0), /header\.wav/],
  ])('%s is refused with one message', async (_name, make, message) => {
    const { code, out, err } = await assess(await make(), '--skill', 'hand-washing', '--json');
    expect(code).toBe(3);
    expect(out).toBe('');
    expect(err).toMatch(message);
    expect(err.trim().split('\n')).toHaveLength(1);
  }); // prettier-ignore

  it('cut short is marked as far as it goes, and says so', async () => {
    await copyFile(DEMO, file('cut.wav'));
    await truncate(file('cut.wav'), 58 + 5 * 16_000);
    const { code, out } = await assess(file('cut.wav'), '--skill', 'hand-washing', '--json');
    expect(code).toBe(0);
    expect(document(out).warnings.join()).toMatch(/header promises/);
    expect(document(out).audioSeconds).toBeCloseTo(5, 1);
  });

  it('of silence is marked, with nothing heard and a word about it', async () => {
    await writeWav(file('silent.wav'), new Float32Array(5 * 16_000));
    const { code, out } = await assess(file('silent.wav'), '--skill', 'hand-washing', '--json');
    expect(code).toBe(0);
    expect(document(out).warnings).toContain('No speech was found in this recording.');
    expect(document(out).result).toMatchObject({ passed: false, heard: 0 });
  });

  it.each([
    ['8 kHz', 8000, 1],
    ['44.1 kHz stereo', 44_100, 2],
  ])('of %s is heard like any other', async (name, rate, channels) => {
    const where = file(`${rate}.wav`);
    // Plain repetition and dropping of samples: crude, but speech stays speech.
    const frames = Math.floor((greeting.length * rate) / 16_000);
    const data = Buffer.alloc(44 + frames * channels * 2);
    (await readFile(file('greeting.wav'))).copy(data, 0, 0, 44);
    data.writeUInt16LE(channels, 22);
    data.writeUInt32LE(rate, 24);
    data.writeUInt32LE(rate * channels * 2, 28);
    data.writeUInt16LE(channels * 2, 32);
    data.writeUInt32LE(data.length - 8, 4);
    data.writeUInt32LE(data.length - 44, 40);
    for (let i = 0; i < frames * channels; i += 1) {
      const sample = greeting[Math.floor((Math.floor(i / channels) * 16_000) / rate)]!;
      data.writeInt16LE(Math.round(sample * 32_767), 44 + 2 * i);
    }
    await writeFile(where, data);
    const { code, out } = await assess(where, '--skill', 'hand-washing', '--json');
    expect(code, name).toBe(0);
    expect(document(out).steps.find((s) => s.id === 'greet')!.outcome).toBe('heard');
  });
});

describe('a skill', () => {
  const skill = async (name: string, steps: string): Promise<string> => {
    const where = file(name);
    await mkdir(where, { recursive: true });
    await writeFile(
      path.join(where, 'demo.yaml'),
      `schema: 1\nid: demo\ntitle: D\ncard: D\nsteps:\n${steps}`,
    );
    return where;
  };

  it.each([
    ['cycle', '  - { id: a, text: A, cues: [x], before: [b] }\n  - { id: b, text: B, cues: [x], before: [a] }\n', /demo\.yaml:6:5: steps\[0\]: the order runs in a circle/],
    ['slot', '  - { id: a, text: A, cues: ["{nope} it"] }\n', /demo\.yaml:6:\d+: steps\[0\]\.cues\[0\]: unknown slot \{nope\}/],
    ['duplicate', '  - { id: a, text: A, cues: [x] }\n  - { id: a, text: B, cues: [x] }\n', /demo\.yaml:7:\d+: steps\[1\]\.id: duplicate id "a"/],
  ])('with a fault (%s) is refused with its place', async (name, steps, message) => {
    const folder = await skill(name, steps);
    const { code, out, err } = await assess(file('greeting.wav'), '--skill', 'demo', '--skills', folder, '--json');
    expect([code, out]).toEqual([3, '']);
    expect(err).toMatch(message);
    const said = await callCli('skills', 'check', folder);
    expect(said.code).toBe(3);
    expect(said.err).toMatch(message);
  }); // prettier-ignore
});

describe('wrong usage', () => {
  it.each([
    [['--skill', 'hand-washing'], /Usage: sinkside assess/],
    [[DEMO], /Usage: sinkside assess/],
    [[DEMO, '--skill', 'juggling'], /no skill "juggling"; there is: .*hand-washing/],
    [
      [DEMO, '--skill', 'hand-washing', '--variant', 'tap=gold'],
      /"gold" is no value of tap; it takes: lever, pedal/,
    ],
    [[DEMO, '--skill', 'hand-washing', '--variant', 'tap'], /NAME=VALUE/],
    [[DEMO, '--skill', 'hand-washing', '--engine', 'ear'], /no engine "ear"/],
    [[DEMO, '--skill', 'hand-washing', '--nonsense'], /nonsense/],
  ])('%j is answered with what to do', async (args, message) => {
    const { code, out, err } = await assess(...args);
    expect([code, out]).toEqual([2, '']);
    expect(err).toMatch(message);
  });
});

describe('a model', () => {
  it('that is missing or damaged is named, with the command that mends it', async () => {
    const missing = await assess(DEMO, '--skill', 'hand-washing', '--model', file('no-model'), '--json');
    expect([missing.code, missing.out]).toEqual([4, '']);
    expect(missing.err).toMatch(/no speech model/);

    const damaged = file('damaged');
    await mkdir(damaged);
    for (const name of ['encoder_model.ort', 'decoder_model_merged.ort', 'tokenizer.bin']) {
      await copyFile(path.join(modelsHome(), DEFAULT_MODEL, name), path.join(damaged, name));
    }
    await writeFile(path.join(damaged, 'encoder_model.ort'), 'not a model at all');
    const broken = await assess(DEMO, '--skill', 'hand-washing', '--model', damaged, '--json');
    expect([broken.code, broken.out]).toEqual([4, '']);
    expect(broken.err).toMatch(/encoder_model\.ort/);

    // The right shape at the head, rubbish after it: what a torn download looks like to the runtime.
    const torn = await readFile(path.join(modelsHome(), DEFAULT_MODEL, 'encoder_model.ort'));
    await writeFile(path.join(damaged, 'encoder_model.ort'), torn.subarray(0, torn.length / 2));
    const half = await assess(DEMO, '--skill', 'hand-washing', '--model', damaged, '--json');
    expect([half.code, half.out]).toEqual([4, '']);
  });
});
