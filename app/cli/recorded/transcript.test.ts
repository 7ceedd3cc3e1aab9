import { mkdtemp, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { expect, it } from 'vitest';
import { AssessmentSchema } from '../../marking/assessment.ts';
import { main } from '../main.ts';

const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-transcript-'));

async function assess(name: string, content: string | Uint8Array, ...more: string[]) {
  const file = path.join(folder, name);
  await writeFile(file, content);
  let [out, err] = ['', ''];
  const code = await main(['assess', file, '--skill', 'hand-washing', ...more], {
    out: (text) => (out += text),
    err: (text) => (err += text),
    isTerminal: false,
  });
  return { code, out, err };
}

it('marks a WebVTT transcript with its own times, into the same document', async () => {
  const vtt = [
    'WEBVTT', '', '00:01.000 --> 00:03.000', 'Sleeves shoved out of the way.', '',
    '00:10.000 --> 00:12.000', 'I am scrubbing all over.', '', '00:35.500 --> 00:37.000', 'Now I rinse from the wrists down.', '',
  ].join('\n'); // prettier-ignore
  const { code, out } = await assess('talk.vtt', vtt, '--json');
  expect(code).toBe(0);
  const marked = AssessmentSchema.parse(JSON.parse(out));
  expect(marked.engine).toBe('transcript');
  expect(marked.steps.find(({ id }) => id === 'sleeves')).toMatchObject({ outcome: 'heard' });
  const [scrub] = marked.clocks;
  expect(scrub!.seconds).toBeGreaterThan(20);
  expect(scrub!.seconds).toBeLessThanOrEqual(23.5);
}, 60_000);

it('says of plain text that its times are estimated', async () => {
  const { code, out } = await assess('talk.txt', 'I wet my hands.\n');
  expect(code).toBe(0);
  expect(out).toContain('estimated');
}, 60_000);

it('refuses what is no transcript with one message and exit code 3', async () => {
  for (const [name, content, message] of [
    ['bad.vtt', 'no header', /bad\.vtt, line 1: a WebVTT file begins/],
    ['empty.txt', '', /holds no words/],
    ['latin.txt', new Uint8Array([0x49, 0xe9, 0x20]), /not text in UTF-8/],
  ] as const) {
    const { code, out, err } = await assess(name, content);
    expect([code, out]).toEqual([3, '']);
    expect(err).toMatch(message);
    expect(err.trim().split('\n')).toHaveLength(1);
  }
});

it('takes no options that are for recordings', async () => {
  expect((await assess('talk.srt', '1', '--engine', 'vosk')).code).toBe(2);
});
