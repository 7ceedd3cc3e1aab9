import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { run } from './skills.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(path.join(tmpdir(), 'sinkside-skills-'));
  for (const [id, text, cue] of [['plain', 'Plump the pillow', 'i plump the pillow'], ['pushy', 'Ask how much time is left', 'how much time is left']] as const)
    writeFileSync(
      path.join(folder, `${id}.yaml`),
      `schema: 1\nid: ${id}\ntitle: T\ncard: C\nsteps:\n  - { id: a, text: ${text}, cues: ["${cue}"] }\n`,
    );
}); // prettier-ignore
afterEach(() => rmSync(folder, { recursive: true }));

async function call(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  const said = { out: '', err: '' };
  const code = await run(args, {
    out: (text) => (said.out += text),
    err: (text) => (said.err += text),
    isTerminal: false,
  });
  return { code, ...said };
}

it('skills lint names file, line and field, and is no failure', async () => {
  const { code, out } = await call('lint', folder);
  expect(code).toBe(0);
  expect(out).toMatch(/pushy\.yaml:6:\d+: steps\[0\]\.cues\[0\]: .*command "time left".*\n1 warning\n$/);
});

it('skills lint --skill looks at that one only', async () => {
  expect(await call('lint', folder, '--skill', 'plain')).toMatchObject({ code: 0, out: '0 warnings\n' });
  expect(await call('lint', folder, '--skill', 'none')).toMatchObject({
    code: 3,
    err: expect.stringContaining('there is: plain, pushy'),
  });
});

it('skills lint says the faults of a file that cannot be used', async () => {
  writeFileSync(path.join(folder, 'bad.yaml'), 'schema: 1\n');
  expect(await call('lint', folder)).toMatchObject({ code: 3, err: expect.stringContaining('bad.yaml:1:1') });
});
