import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { parse } from 'yaml';
import { z } from 'zod';
import { SHIPPED_SKILLS } from '../library/library.ts';
import { openSound } from '../sound/soundFile.ts';
import type { Demo } from './api.ts';

/** The built-in narration: what the demo says, and engines are tried with. */
export const DEMO = {
  skill: 'hand-washing',
  recording: path.join(SHIPPED_SKILLS, 'demo/hand-washing.wav'),
  script: path.join(SHIPPED_SKILLS, 'demo/hand-washing.yaml'),
};

/** Seconds of silence after a line that names none, as they were put into the recording. */
const PAUSE = 1.2;
const ScriptSchema = z.object({
  lines: z.array(z.object({ say: z.string(), pause: z.number().default(PAUSE) })),
});

/** What the built-in narration says. Rejects as node:fs and zod do when the program's own files are damaged. */
export async function readDemo(): Promise<Demo> {
  const { lines } = ScriptSchema.parse(parse(await readFile(DEMO.script, 'utf8')));
  return { skill: DEMO.skill, says: lines.flatMap(({ say, pause }) => [say, pause]) };
}

/** Its recording as 16-bit little-endian mono PCM at 16 kHz: no browser need know how it is kept. */
export async function demoSound(): Promise<Uint8Array<ArrayBuffer>> {
  const pieces: Uint8Array[] = [];
  for await (const samples of (await openSound(DEMO.recording)).chunks) {
    const piece = new DataView(new ArrayBuffer(2 * samples.length));
    samples.forEach((x, i) =>
      piece.setInt16(2 * i, Math.max(-32768, Math.min(32767, Math.round(32768 * x))), true),
    );
    pieces.push(new Uint8Array(piece.buffer));
  }
  return Buffer.concat(pieces);
}
