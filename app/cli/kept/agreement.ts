import path from 'node:path';
import { parseArgs } from 'node:util';
import { agreementOf, type Agreement, type Tally } from '../../agreement/agreement.ts';
import { readPairs } from '../../host/routes/judged.ts';
import { SkillFolder } from '../../library/skillFolder.ts';
import { Rehearsals } from '../../records/rehearsals.ts';
import { agreementHtml } from '../../report/agreementHtml.ts';
import { answering, UsageError } from '../recorded/answering.ts';
import type { ExitCode, Io } from '../io.ts';

export const USAGE = `Usage: sinkside agreement DATA_FOLDER [--skills DIR] [--json|--html]

How far the machine's marks agree with those of the people who reviewed the rehearsals kept in a data folder: false credits and misses by
skill, step, cue and engine, Cohen's kappa with its interval, and what trainees said for steps that the machine missed.

  --skills DIR   a folder of skill files instead of the program's own
  --json         print one JSON document
  --html         print one HTML page that works alone, to be kept or printed

Exit codes: 0 done, 2 wrong usage, 3 nothing reviewed there, or faulty files.
`;

/** `sinkside agreement …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, async () => {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { skills: { type: 'string' }, json: { type: 'boolean' }, html: { type: 'boolean' } },
    });
    const [data, ...rest] = positionals;
    if (data === undefined || rest.length > 0 || (values.json && values.html)) throw new UsageError(USAGE);
    const { library } = await SkillFolder.open(data, values.skills);
    const { pairs, leftOut } = await readPairs(new Rehearsals(data, library), library);
    for (const reason of leftOut) io.err(`Left out: ${reason}\n`);
    if (pairs.length === 0) {
      io.err(`No reviewed rehearsal lies in ${path.resolve(data)}.\n`);
      return 3;
    }
    const agreement = agreementOf(pairs);
    io.out(written(agreement, values, path.resolve(data)));
    return 0;
  });
}

function written(
  agreement: Agreement,
  { json = false, html = false }: { readonly json?: boolean; readonly html?: boolean },
  data: string,
): string {
  if (json) return `${JSON.stringify(agreement, null, 2)}\n`;
  return html ? agreementHtml(agreement, `The rehearsals in ${data}`) : describeAgreement(agreement);
}

/** Steps, cues and sayings that are listed; the JSON document has all. */
const LISTED = 10;

/** The document as text. */
export function describeAgreement(agreement: Agreement): string {
  const { all, critical, bySkill, byEngine, byStep, byCue, suggestions, attempts, blind } = agreement;
  const faulty = <T extends Tally>(tallies: readonly T[]): T[] =>
    tallies.filter(({ falseCredits, misses }) => falseCredits + misses > 0).slice(0, LISTED);
  const section = (title: string, lines: readonly string[]): string[] =>
    lines.length > 0 ? ['', title, ...lines.map((line) => `  ${line}`)] : [];
  return [
    `${attempts} reviewed, ${all.judged} steps judged by both; ${blind} of them with the machine's mark hidden.`,
    `All steps: ${tallyText(all)}`,
    `Critical steps: ${tallyText(critical)}`,
    ...section(
      'By skill and version',
      bySkill.map((each) => `${each.skill}, version ${each.version}: ${tallyText(each)}`),
    ),
    ...section(
      'By engine',
      byEngine.map((each) => `${each.engine}: ${tallyText(each)}`),
    ),
    ...section(
      'Steps to look at first',
      faulty(byStep).map((each) => `${each.skill}/${each.step}: ${faultText(each)}`),
    ),
    ...section(
      'By cue',
      faulty(byCue).map((each) => `${each.skill}/${each.step} "${each.cue ?? 'no cue'}": ${faultText(each)}`),
    ),
    ...section(
      'Said for steps that were missed',
      suggestions
        .slice(0, LISTED)
        .map(({ skill, step, said, times }) => `${skill}/${step}: "${said}" (${times} ×)`),
    ),
    '',
    agreement.method,
    agreement.caution,
    '',
  ].join('\n');
}

const faultText = ({ falseCredits, misses, asked, judged }: Tally): string =>
  `false credits ${falseCredits}, misses ${misses} (asked about: ${asked}), of ${judged}`;

function tallyText(tally: Tally): string {
  const { observed, kappa, interval, why } = tally;
  if (observed === null) return why;
  const spread = interval ? ` (95 %: ${interval.map(rounded).join(' to ')})` : '';
  const beyond = kappa === null ? 'no kappa' : `kappa ${rounded(kappa)}${spread}`;
  return `${[`agree on ${rounded(observed)}`, beyond, faultText(tally)].join('; ')}.${why === '' ? '' : ` ${why}`}`;
}

const rounded = (value: number): string => value.toFixed(2);
