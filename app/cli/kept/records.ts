import { parseArgs } from 'node:util';
import { BundleRefused } from '../../bundle/refused.ts';
import { BUNDLE_ENDING } from '../../bundle/manifest.ts';
import { Carrier } from '../../carrying/carrier.ts';
import type { Wanted } from '../../carrying/gather.ts';
import { ChangedHere } from '../../carrying/takeIn.ts';
import { takenInWords } from '../../carrying/takenIn.ts';
import { dataFolder } from '../../disk/dataFolder.ts';
import { FolderHeld } from '../../disk/folderLock.ts';
import { alone } from '../../host/alone.ts';
import { Refused } from '../../host/refused.ts';
import type { Sources } from '../../host/reports/attemptReportOf.ts';
import { SkillFolder } from '../../library/skillFolder.ts';
import { PeopleFile } from '../../people/peopleFile.ts';
import { UnknownRehearsal } from '../../records/kept.ts';
import { Rehearsals } from '../../records/rehearsals.ts';
import type { RehearsalSummary } from '../../records/summary.ts';
import { answering, UsageError } from '../recorded/answering.ts';
import { exportReport } from './exportReport.ts';
import type { ExitCode, Io } from '../io.ts';

export const USAGE = `Usage: sinkside records list
       sinkside records show ID
       sinkside records export FILE [ID…] [--class NAME] [--since DATE]
       sinkside records export FILE ID --report html|csv|json
       sinkside records import FILE
       sinkside records delete ID…
       sinkside records rebuild

The rehearsals that are kept on this machine: what there is, one of them closely, many as one file (${BUNDLE_ENDING}) for another machine and
back, deleting, and making the index anew, which only saves time.

  --class NAME   those of a class; without it of everybody
  --since DATE   those begun on that day or later: 2026-03-09
  --report FORM  the report of one rehearsal, machine and person side by side, to print or to reckon with
  --skills DIR   a folder of skill files instead of the program's own
  --data DIR     the data folder, instead of the usual one or that which SINKSIDE_DATA names
  --json         print one JSON document, and nothing else

A file is taken in whole or not at all, and twice changes nothing. Close the rehearsal room first, but for "list" and "show".
Exit codes: 0 done, 2 wrong usage, or the room is open, 3 no such rehearsal, or a file that is refused.
`;

/** What a command works with. */
interface Work extends Sources {
  readonly carrier: Carrier;
  readonly args: readonly string[];
  readonly since: string | undefined;
  readonly group: string | undefined;
  readonly report: string | undefined;
  /** Prints what is asked for: as JSON, or in words. */
  readonly answer: (document: unknown, words: string) => void;
  readonly err: (text: string) => void;
}

interface Verb {
  readonly run: (work: Work) => Promise<void>;
  /** How many arguments it takes. */
  readonly least: number;
  readonly most: number;
  /** Whether no other program may use the data folder meanwhile. */
  readonly isAlone: boolean;
}

const VERBS: Readonly<Record<string, Verb>> = {
  list: { run: list, least: 0, most: 0, isAlone: false },
  show: { run: show, least: 1, most: 1, isAlone: false },
  // Sound is packed for it, which two programs must not do at once.
  export: { run: exportFile, least: 1, most: Infinity, isAlone: true },
  import: { run: importBundle, least: 1, most: 1, isAlone: true },
  delete: { run: remove, least: 1, most: Infinity, isAlone: true },
  rebuild: { run: rebuild, least: 0, most: 0, isAlone: true },
};

/** `sinkside records …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, async () => {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: {
        class: { type: 'string' },
        since: { type: 'string' },
        report: { type: 'string' },
        skills: { type: 'string' },
        data: { type: 'string' },
        json: { type: 'boolean' },
      },
    });
    const [name = '', ...rest] = positionals;
    const verb = Object.hasOwn(VERBS, name) ? VERBS[name] : undefined;
    const isChoosing = [values.class, values.since, values.report].some((value) => value !== undefined);
    if (!verb || rest.length < verb.least || rest.length > verb.most || (isChoosing && name !== 'export'))
      throw new UsageError(USAGE);
    const data = values.data ?? dataFolder();
    const work = await openWork(data, values.skills, rest, values, io);
    const doIt = (): Promise<void> => verb.run(work).finally(() => work.rehearsals.close());
    return saying(io, () => (verb.isAlone ? alone(data, doIt) : doIt()));
  });
}

async function openWork(
  data: string,
  given: string | undefined,
  args: readonly string[],
  { json, since, report, class: group }: { json?: boolean; since?: string; report?: string; class?: string },
  io: Io,
): Promise<Work> {
  const skills = await SkillFolder.open(data, given);
  const rehearsals = new Rehearsals(data, skills.library, (message) => io.err(`${message}\n`));
  const people = new PeopleFile(data);
  const carrier = new Carrier({ rehearsals, people, skills });
  const answer = (document: unknown, words: string): void =>
    io.out(json ? `${JSON.stringify(document, null, 2)}\n` : words);
  const { library } = skills;
  return { rehearsals, people, library, carrier, args, since, group, report, answer, err: io.err };
}

/** Answers what the user can put right with one message and an exit code. */
async function saying(io: Io, work: () => Promise<void>): Promise<ExitCode> {
  try {
    await work();
    return 0;
  } catch (error) {
    const isHeld = error instanceof FolderHeld;
    const { code, syscall } = error as NodeJS.ErrnoException;
    const isOfFile = syscall !== undefined && ['ENOENT', 'EISDIR', 'EACCES', 'ENOTDIR'].includes(code ?? '');
    const kinds = [UnknownRehearsal, BundleRefused, ChangedHere, Refused];
    if (!isHeld && !isOfFile && !kinds.some((kind) => error instanceof kind)) throw error;
    io.err(`${(error as Error).message}${isHeld ? ' Close it first.' : ''}\n`);
    return isHeld ? 2 : 3;
  }
}

async function list({ rehearsals, answer }: Work): Promise<void> {
  const all = await rehearsals.list();
  answer(all, all.length === 0 ? 'No rehearsal is kept.\n' : all.map(lineOf).join(''));
}

const lineOf = ({ id, title, heard, of, state, note }: RehearsalSummary): string =>
  `${id}  ${title}: ${heard} of ${of} steps heard${state === 'ended' ? '' : ', broken off'}${note && `; ${note.split('\n')[0]}`}\n`;

async function show({ rehearsals, args: [id = ''], answer }: Work): Promise<void> {
  const { header, events, faults, samples } = await rehearsals.read(id);
  const summary = (await rehearsals.list()).find((each) => each.id === id);
  if (!summary) throw new UnknownRehearsal(id);
  const { passed, criticalMissed, note } = summary;
  const reviews = events.filter((event) => 'madeAt' in event).length;
  const lines = [
    `Begun ${header.startedAt}, ${Math.round(summary.seconds)} s, heard by ${header.engine}.`,
    ...(summary.version === null ? [] : [`Marked under version ${summary.version}.`]),
    ...(passed === null ? [] : [passed ? 'Passed.' : 'Not passed.']),
    ...(criticalMissed.length > 0 ? [`Critical steps missed: ${criticalMissed.join(', ')}.`] : []),
    `${events.length} events, ${reviews} of them by people. ${samples > 0 ? 'With sound.' : 'Without sound.'}`,
    ...(note === '' ? [] : [note]),
  ];
  answer(
    { ...summary, header, events: events.length, reviews, samples, faults },
    `${lineOf(summary)}${lines.join('\n')}\n`,
  );
}

async function exportFile(work: Work): Promise<void> {
  if (work.report === undefined) return exportBundle(work);
  const exported = await exportReport(work.args, work.report, work);
  work.answer(exported, `The report is in ${exported.file}.\n`);
}

async function exportBundle({ carrier, args, since, group, answer, err }: Work): Promise<void> {
  const [file = '', ...ids] = args;
  if (ids.length > 0 && (since !== undefined || group !== undefined))
    throw new UsageError('Give either ids, or --class and --since.');
  const wanted: Wanted =
    ids.length > 0
      ? { ids }
      : { class: group ?? null, since: since === undefined ? -Infinity : dayOf(since) };
  const count = await carrier.count(wanted);
  if (count === 0 || (ids.length > 0 && count < ids.length)) throw new UnknownRehearsal(ids.join(', '));
  const { manifest, leftOut } = await carrier.make(file, wanted, counting(err));
  for (const { id, why } of leftOut) err(`Left out: ${id}: ${why}.\n`);
  const carried = manifest.attempts.map(({ record }) => record);
  answer(
    { file, carried, leftOut },
    `${carried.length === 1 ? '1 rehearsal is' : `${carried.length} rehearsals are`} in ${file}.\n`,
  );
}

/** The moment a day begins on this machine, ms since 1970. */
function dayOf(text: string): number {
  const at = /^\d{4}-\d\d-\d\d$/.test(text) ? new Date(`${text}T00:00`).getTime() : NaN;
  if (Number.isNaN(at)) throw new UsageError(`"${text}" is no day; write it as 2026-03-09.`);
  return at;
}

/** Tells after each hundredth how many there were. */
function counting(err: Work['err']): () => void {
  let done = 0;
  return () => {
    done += 1;
    if (done % 100 === 0) err(`${done} rehearsals\n`);
  };
}

async function importBundle({ carrier, args: [file = ''], answer, err }: Work): Promise<void> {
  await carrier.goOn();
  const taken = await carrier.takeIn(file, counting(err));
  answer(taken, `${takenInWords(taken).join('\n')}\n`);
}

async function remove({ rehearsals, args, answer }: Work): Promise<void> {
  for (const id of args) await rehearsals.traineeOf(id);
  for (const id of args) await rehearsals.delete(id, '');
  answer({ deleted: args }, `Deleted: ${args.join(', ')}.\n`);
}

async function rebuild({ rehearsals, answer }: Work): Promise<void> {
  const all = await rehearsals.rebuild();
  answer({ rehearsals: all.length }, `The index is made anew: ${all.length} rehearsals.\n`);
}
