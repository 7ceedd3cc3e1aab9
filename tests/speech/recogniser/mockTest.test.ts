import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { expect, it } from 'vitest';
import { main } from '../../../app/cli/main.ts';
import { TestDocumentSchema } from '../../../app/cli/recorded/testDocument.ts';
import { EXPECTED, FIVE, speakFiveSkills, summaryOf } from '../fiveSkills.ts';
import { writeWav } from '../sound.ts';

/** A whole mock test from sound in the terminal, through the real recogniser. */
it('marks five skills with a correction in time, one too late, a critical miss and the time up', async () => {
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-mock-'));
  try {
    const { spoken, skills } = await speakFiveSkills(folder);
    const sound = path.join(folder, 'test.wav');
    await writeWav(sound, spoken.samples);
    const said = { out: '', err: '' };
    const code = await main(
      ['mock', sound, '--pick', FIVE.join(','), '--rules', 'cut-short', '--skills', skills, '--json'],
      { out: (text) => (said.out += text), err: (text) => (said.err += text), isTerminal: false },
    );
    expect(said.err).toBe('');
    expect(code).toBe(0);
    const document = TestDocumentSchema.parse(JSON.parse(said.out));
    expect(summaryOf({ ...document, ...document.result })).toEqual(EXPECTED);
    const [clock] = document.skills[0]!.clocks;
    expect(Math.abs(clock!.seconds - spoken.clocks.get('scrub')!)).toBeLessThan(0.5);
    // One clock over all: each skill is closed where the next one opens.
    document.skills.slice(1).forEach(({ from }, i) => expect(from).toBe(document.skills[i]!.to));
  } finally {
    await rm(folder, { recursive: true });
  }
}, 300_000);
