import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { packagedFiles, readJudge } from '../../app/listening/packaged.ts';
import { inTurn } from '../../app/meaning/inTurn.ts';
import { Judge } from '../../app/meaning/judge.ts';
import type { Checklist } from '../../app/rehearsal/checklist.ts';
import type { Utterance } from '../../app/rehearsal/utterance.ts';
import { CACHE } from './voices.ts';

/** The learned judge with a memory: what it said of a sentence beside the same steps is kept by its network's hash. */

/** What is kept is of this network and this way of asking it. */
const SOURCE = new URL('../../app/meaning/judge.ts', import.meta.url);

type Memory = Record<string, Utterance['judged']>;
let open: { judge: Judge; file: string; memory: Memory; isNew: boolean } | null = null;
/** `none`, to see what the rules do alone, or a folder with another judge; the program's own by default. */
const wanted = process.env['SINKSIDE_JUDGE'];

/** The judge, as one skill's rehearsal asks it; it wakes only for what it has not judged before. */
export function judgeOf({ steps }: Pick<Checklist, 'steps'>): Pick<Judge, 'expect' | 'judge'> {
  const beside = hash(JSON.stringify(steps.map(({ id, text }) => [id, text])));
  let isReady = false;
  return {
    expect: () => Promise.resolve(),
    judge: async (utterance, before) => {
      if (wanted === 'none') return utterance;
      open ??= await openJudge();
      const { judge, memory } = open;
      const key = hash(`${beside} ${before}\n${utterance.text}`);
      if (!(key in memory)) {
        if (!isReady) await judge.expect(steps);
        isReady = open.isNew = true;
        memory[key] = (await judge.judge(utterance, before)).judged ?? [];
      }
      return { ...utterance, judged: memory[key]! };
    },
  };
}

/** Utterances with what the judge makes of them. */
export async function judged(
  utterances: readonly Utterance[],
  checklist: Pick<Checklist, 'steps'>,
): Promise<Utterance[]> {
  const read = inTurn(judgeOf(checklist));
  const all: Utterance[] = [];
  for (const utterance of utterances) all.push(await read(utterance));
  keep();
  return all;
}

/** Writes down what is new. */
export function keep(): void {
  if (!open?.isNew) return;
  writeFileSync(open.file, JSON.stringify(open.memory));
  open.isNew = false;
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
  return { judge: await Judge.open(files), file, memory, isNew: false };
}

const hash = (text: string): string => createHash('sha256').update(text).digest('hex').slice(0, 24);
