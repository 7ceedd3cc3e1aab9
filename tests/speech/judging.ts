import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { packagedFiles, readJudge } from '../../app/listening/packaged.ts';
import { Judge } from '../../app/meaning/judge.ts';
import type { Checklist } from '../../app/rehearsal/checklist.ts';
import type { Utterance } from '../../app/rehearsal/utterance.ts';
import { CACHE } from './voices.ts';

/** The learned judge with a memory: what it said of a sentence beside the same steps is kept by its network's hash. */

/** What is kept is of this network and this way of asking it. */
const SOURCE = new URL('../../app/meaning/judge.ts', import.meta.url);

type Memory = Record<string, Utterance['judged']>;
let open: { judge: Judge; file: string; memory: Memory } | null = null;
/** `none`, to see what the rules do alone, or a folder with another judge; the program's own by default. */
const wanted = process.env['SINKSIDE_JUDGE'];

/** Utterances with what the judge makes of them. */
export async function judged(
  utterances: readonly Utterance[],
  { steps }: Pick<Checklist, 'steps'>,
): Promise<Utterance[]> {
  if (wanted === 'none') return [...utterances];
  open ??= await openJudge();
  const { judge, file, memory } = open;
  const beside = hash(JSON.stringify(steps.map(({ id, text }) => [id, text])));
  let isReady = false;
  let isNew = false;
  const all: Utterance[] = [];
  for (const utterance of utterances) {
    const key = hash(`${beside} ${utterance.text}`);
    if (!(key in memory)) {
      if (!isReady) await judge.expect(steps);
      isReady = isNew = true;
      memory[key] = (await judge.judge(utterance)).judged ?? [];
    }
    all.push({ ...utterance, judged: memory[key]! });
  }
  if (isNew) writeFileSync(file, JSON.stringify(memory));
  return all;
}

async function openJudge() {
  const files = await readJudge(
    wanted === undefined
      ? packagedFiles()
      : { judge: path.join(wanted, 'judge.onnx'), judgeTokenizer: path.join(wanted, 'judge.tokenizer.json') },
  );
  const folder = path.join(CACHE, 'judged');
  mkdirSync(folder, { recursive: true });
  const file = path.join(
    folder,
    `${hash(Buffer.from(files.network).toString('latin1') + readFileSync(SOURCE, 'utf8'))}.json`,
  );
  const memory = existsSync(file) ? (JSON.parse(readFileSync(file, 'utf8')) as Memory) : {};
  return { judge: await Judge.open(files), file, memory };
}

const hash = (text: string): string => createHash('sha256').update(text).digest('hex').slice(0, 24);
