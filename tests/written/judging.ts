import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { fileURLToPath } from 'node:url';
import { gunzipSync, gzipSync } from 'node:zlib';
import { z } from 'zod';
import { packagedFiles, readJudge } from '../../app/engines/packaged.ts';
import { inTurn } from '../../app/meaning/inTurn.ts';
import { Judge, judgeStretches } from '../../app/meaning/judge.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import type { Utterance } from '../../app/language/utterance.ts';
import { CACHE } from '../speech/voices.ts';

/**
 * The learned judge with a memory: what it said of a sentence beside the same steps is kept by its network's hash, on this machine and, of
 * what the everyday tests ask, in the repository. One answer in a hundred is asked for again, other ones each day, and must be the same:
 * so a change in the way it is asked shows, and one that only moves code costs nothing.
 */

/** Wanted of the judge: `none`, to see what the rules do alone, or a folder with another one; the program's own by default. */
const wanted = process.env['SINKSIDE_JUDGE'];

/** Words before a sentence that the judge may read: more than it has tokens for. */
const BEFORE = 14;
/** Verdicts of the same network on the same words may differ by so much from one machine to another; none have yet. */
const SAME = 0.01;

type Sure = Awaited<ReturnType<Judge['sureOf']>>;
const MemorySchema = z.record(z.string(), z.record(z.string(), z.number()));
const KeptSchema = z.strictObject({ by: z.string(), verdicts: MemorySchema });
const KEPT = fileURLToPath(new URL('judged.json.gz', import.meta.url));

interface Memory {
  readonly judge: Judge;
  /** Hash of the network and of its tokenizer. */
  readonly by: string;
  readonly file: string;
  readonly verdicts: Record<string, Sure>;
  /** Of them, what was asked for. */
  readonly asked: Record<string, Sure>;
  isNew: boolean;
  /** When it was last written down, ms. */
  writtenAt: number;
}
let open: Memory | null = null;

/** The judge, as one skill's rehearsal asks it; it wakes only for what it has not judged before. */
export function judgeOf({ steps }: Pick<Checklist, 'steps'>): Pick<Judge, 'expect' | 'judge'> {
  const beside = JSON.stringify(steps.map(({ id, text }) => [id, text]));
  let isReady = false;
  const sureOf = async (said: string, before = ''): Promise<Sure> => {
    open ??= await openMemory();
    const { judge, verdicts, asked } = open;
    const near = before.split(/\s+/).slice(-BEFORE).join(' ');
    const key = hash(`${beside} ${near}\n${said}`);
    const known = verdicts[key];
    if (known && !isAskedAgain(key)) return (asked[key] = known);
    if (!isReady) await judge.expect(steps);
    isReady = true;
    const sure = await judge.sureOf(said, near);
    if (known) expectSame(said, known, sure);
    else open.isNew = true;
    return (asked[key] = verdicts[key] = sure);
  };
  return {
    expect: () => Promise.resolve(),
    judge: async (utterance, before) =>
      wanted === 'none' ? utterance : judgeStretches(utterance, before, sureOf),
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

/** Milliseconds between two times that what is new is written down: all that is known goes into one file. */
const WRITE_EVERY = 10_000;

/** Writes down what is new, now and then, and at the end. */
export function keep(isEnd = false): void {
  if (!open?.isNew || (!isEnd && Date.now() - open.writtenAt < WRITE_EVERY)) return;
  writeFileSync(open.file, JSON.stringify(open.verdicts));
  open.isNew = false;
  open.writtenAt = Date.now();
}
process.on('exit', () => keep(true));

/** Makes the repository's file of what was asked for so far, and says how many verdicts that is. */
export function keepForAll(): number {
  const { by, asked } = open!;
  const verdicts = Object.fromEntries(Object.entries(asked).sort(([a], [b]) => (a < b ? -1 : 1)));
  writeFileSync(KEPT, gzipSync(JSON.stringify({ by, verdicts }), { level: 9 }));
  return Object.keys(asked).length;
}

/** What the repository keeps of a judge: nothing, where it is another's. */
function keptBy(by: string): Record<string, Sure> {
  if (!existsSync(KEPT)) return {};
  const kept = KeptSchema.parse(JSON.parse(gunzipSync(readFileSync(KEPT)).toString()));
  return kept.by === by ? kept.verdicts : {};
}

const isAskedAgain = (key: string): boolean =>
  parseInt(key.slice(0, 8), 16) % 100 === Math.floor(Date.now() / 86_400_000) % 100;

function expectSame(said: string, known: Sure, sure: Sure): void {
  const ids = new Set([...Object.keys(known), ...Object.keys(sure)]);
  const other = [...ids].filter((id) => Math.abs((known[id] ?? 0) - (sure[id] ?? 0)) > SAME);
  if (other.length > 0)
    throw new Error(
      `Of "${said}" the judge now says ${JSON.stringify(sure)}, and ${JSON.stringify(known)} is kept: run \`npm run keep:judged\`.`,
    );
}

async function openMemory(): Promise<Memory> {
  const files = await readJudge(
    wanted === undefined
      ? packagedFiles()
      : { judge: path.join(wanted, 'judge.onnx'), judgeTokenizer: path.join(wanted, 'judge.tokenizer.json') },
  );
  const by = hash(
    Buffer.concat([files.network, files.tokenizer].map((part) => createHash('sha256').update(part).digest())),
  );
  const folder = path.join(CACHE, 'judged');
  mkdirSync(folder, { recursive: true });
  const file = path.join(folder, `${by}.json`);
  const own = existsSync(file) ? MemorySchema.parse(JSON.parse(readFileSync(file, 'utf8'))) : {};
  const verdicts = { ...own, ...keptBy(by) };
  return { judge: await Judge.open(files), by, file, verdicts, asked: {}, isNew: false, writtenAt: 0 };
}

const hash = (text: string | Uint8Array): string =>
  createHash('sha256').update(text).digest('hex').slice(0, 16);
