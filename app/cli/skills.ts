import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { parseArgs } from 'node:util';
import { packagedFiles, readJudge } from '../engines/packaged.ts';
import { inTurn } from '../meaning/inTurn.ts';
import { Judge } from '../meaning/judge.ts';
import { lintMeaning } from '../meaning/lintMeaning.ts';
import {
  openLibrary,
  readNarrations,
  SHIPPED_SKILLS,
  type FiledNarration,
  type Library,
} from '../library/library.ts';
import { textIfThere } from '../disk/wholeFile.ts';
import { makeChecklist } from '../skills/checklist.ts';
import { describeFault, FaultyFile } from '../faults/faults.ts';
import { lintCare, lintSkill } from '../authoring/lint.ts';
import { playNarration, type Mismatch } from '../run/narration.ts';
import { heardClearly, type Utterance } from '../language/utterance.ts';
import type { ExitCode, Io } from './io.ts';

export const USAGE = `Usage: sinkside skills check [DIR]
       sinkside skills lint [DIR] [--skill ID] [--rules-only]
       sinkside skills test [DIR] [--skill ID]

check reads every skill file of a folder (by default the program's own) and says what is wrong, where and what to do.
lint says which cues had better be looked at: those that credit another step, are often misheard, or are commands, and those
that the learned judge takes otherwise, which takes some seconds a skill; --rules-only leaves it out.
test plays the narrations that lie in the folder's "narrations" and says where their marks are not what they must be.
`;

const VERBS = ['check', 'lint', 'test'];

/** `sinkside skills …` */
export async function run(args: string[], io: Io): Promise<ExitCode> {
  const { positionals, values } = parseArgs({
    args,
    allowPositionals: true,
    options: { skill: { type: 'string' }, 'rules-only': { type: 'boolean', default: false } },
  });
  const [verb, folder = SHIPPED_SKILLS, ...rest] = positionals;
  if (!VERBS.includes(verb ?? '') || rest.length > 0) {
    io.err(USAGE);
    return 2;
  }
  try {
    const library = await openLibrary(folder);
    for (const fault of library.faults) io.err(`${describeFault(fault)}\n`);
    if (library.faults.length > 0) {
      io.err(`${library.faults.length} ${library.faults.length === 1 ? 'fault' : 'faults'} in ${folder}\n`);
      return 3;
    }
    if (verb === 'check') return check(library, io);
    const only = values.skill;
    if (only !== undefined && !library.skills.has(only)) {
      io.err(
        `There is no skill "${only}" in ${folder}; there is: ${[...library.skills.keys()].join(', ')}.\n`,
      );
      return 3;
    }
    return await (verb === 'lint' ? lint(library, only, values['rules-only'], io) : test(library, only, io));
  } catch (error) {
    if (!(error instanceof FaultyFile)) throw error;
    io.err(`${error.message}\n`);
    return 3;
  }
}

function check({ skills, folder }: Library, io: Io): ExitCode {
  for (const { id, title, steps } of skills.values()) io.out(`${id}: ${title}, ${steps.length} steps\n`);
  io.out(`No faults in ${folder}\n`);
  return 0;
}

/** Warnings are no faults: a skill with some can be used, and the exit code says so. */
async function lint(
  { folder, files, skills, lexicon, rules, care }: Library,
  only: string | undefined,
  rulesOnly: boolean,
  io: Io,
): Promise<ExitCode> {
  const judge = rulesOnly ? null : await Judge.open(await readJudge(packagedFiles()));
  const shared = path.join(folder, 'care.yaml');
  const sharedText = only === undefined ? await textIfThere(shared) : null;
  const warnings = sharedText === null ? [] : lintCare(shared, sharedText, lexicon);
  for (const [id, file] of files) {
    if (only !== undefined && id !== only) continue;
    const source = await readFile(file, 'utf8');
    warnings.push(...lintSkill(file, source, lexicon, care));
    if (!judge) continue;
    if (io.isTerminal) io.err(`Reading ${id}\n`);
    const skill = skills.get(id)!; // both maps are the library's
    warnings.push(
      ...(await lintMeaning(file, source, skill, makeChecklist(skill, lexicon, rules), lexicon, judge)),
    );
  }
  for (const warning of warnings) io.out(`${describeFault(warning)}\n`);
  io.out(`${warnings.length} ${warnings.length === 1 ? 'warning' : 'warnings'}\n`);
  return 0;
}

async function test(library: Library, only: string | undefined, io: Io): Promise<ExitCode> {
  const narrations = (await readNarrations(library.folder)).filter(
    ({ skill }) => only === undefined || skill === only,
  );
  const judge = await Judge.open(await readJudge(packagedFiles()));
  let failed = 0;
  for (const narration of narrations) {
    const mismatches = await mismatchesOf(library, narration, judge);
    if (mismatches.length > 0) failed += 1;
    const name = `${path.basename(narration.file)}: ${narration.title}`;
    io.out(`${mismatches.length === 0 ? 'right' : 'WRONG'}  ${name}\n`);
    for (const { what, expected, got, text } of mismatches)
      io.out(`       ${what}: must be ${expected}, is ${got}${text === '' ? '' : ` (${text})`}\n`);
  }
  io.out(`${narrations.length - failed} of ${narrations.length} narrations are marked as they must be\n`);
  return failed === 0 ? 0 : 3;
}

async function mismatchesOf(library: Library, narration: FiledNarration, judge: Judge): Promise<Mismatch[]> {
  const skill = library.skills.get(narration.skill);
  const none = { what: 'skill', expected: 'one of the folder', got: narration.skill, text: '' };
  if (!skill) return [none];
  const checklist = makeChecklist(skill, library.lexicon, library.rules, narration.variants);
  await judge.expect(checklist.steps);
  const meanings = new Map<string, Utterance['judged']>();
  const read = inTurn(judge);
  for (const said of narration.says)
    if (typeof said === 'string') meanings.set(said, (await read(heardClearly(0, said, 0))).judged);
  return playNarration(checklist, narration, meanings);
}
