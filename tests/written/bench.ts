import { parseArgs } from 'node:util';
import { crc32 } from 'node:zlib';
import { openLibrary } from '../../app/library/library.ts';
import { makeChecklist, type Checklist } from '../../app/skills/checklist.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { BEFORE } from '../../app/marking/state.ts';
import { heardClearly } from '../../app/language/utterance.ts';
import { amid, creditedBy, TRAPS } from '../rehearsal/traps/traps.ts';
import { judged } from './judging.ts';
import { loadNarrations } from '../speech/narration.ts';
import { linesDuring, saysOf, scoreClocks, scoreNumbers } from '../speech/bench/score.ts';
import { percent, ratio, table } from '../speech/bench/table.ts';
import { markWritten, scored, type Written } from './written.ts';

const USAGE = `npm run bench:written -- [options]

Marks the narrations as they are written, as if heard perfectly, by the rules and the judge; then the traps.

  --split NAME      dev (for tuning) or held-out (for reporting); dev by default
  --fold NAME       of dev, what a judge of \`recipe.judge trial\` has not learnt: known (a third of the narrations and traps)
                    or strange (every third skill whole); name that judge's folder in SINKSIDE_JUDGE
  --texts-only      forget the steps' examples: what a skill scores that was only named, step by step
  --narration TEXT  only narrations whose name holds this
  --verbose         list every missed and false credit
  --no-traps

SINKSIDE_JUDGE=none marks by the rules alone.
`;

const options = readOptions();
const library = await openLibrary();
if (library.faults.length > 0) throw new Error(JSON.stringify(library.faults, null, 2));

const inFold = (skill: string, unit: string): boolean =>
  options.fold === undefined || crc32(options.fold === 'strange' ? skill : unit) % 3 === 0;
const narrations = (await loadNarrations()).filter(
  ({ id, skill, split }) => split === options.split && id.includes(options.narration) && inFold(skill, id),
);

const marked: Written[] = [];
for (const narration of narrations) {
  marked.push(await markWritten(narration, checklistOf(narration.skill, narration.variants)));
  if (process.stderr.isTTY) process.stderr.write(`\r\u001b[K${marked.length} of ${narrations.length}`);
}
if (options.verbose) for (const one of marked) await explain(one);
report();
if (options.traps) await reportTraps();
process.exit(0);

function checklistOf(id: string, variants: Readonly<Record<string, string>> = {}): Checklist {
  const skill = library.skills.get(id)!;
  return makeChecklist(
    options.textsOnly ? textsOnly(skill) : skill,
    library.lexicon,
    library.rules,
    variants,
  );
}

/** The skill as somebody who only lists its steps would write it; what is timed, counted or read keeps its examples. */
function textsOnly(skill: Skill): Skill {
  return {
    ...skill,
    steps: skill.steps.map((step) => (step.evidence.kind === 'said' ? { ...step, cues: [] } : step)),
  };
}

function report(): void {
  const bySkill = grouped(marked, ({ narration }) => narration.skill);
  const row = (name: string, of: readonly Written[]): string[] => {
    const { precision, recall, wrong, critical } = scored(of);
    return [
      name,
      `${of.length}`,
      ratio(precision),
      ratio(recall),
      `${wrong.length}`,
      `${critical.length}`,
      worst(of),
    ];
  };
  const rows = [...bySkill].map(([skill, of]) => row(skill, of));
  console.log(`Step credits of ${options.split} narrations as written\n`);
  console.log(
    table(
      ['skill', 'narrations', 'precision', 'recall', 'false', 'critical', 'most missed, of times said'],
      [...rows, row('all', marked)],
    ),
  );
  const weak = [...bySkill].filter(([, of]) => scored(of).recall < 0.93).map(([skill]) => skill);
  console.log(`\nunder .93 recall: ${weak.length}`);
  const clocks = marked.flatMap(({ narration, truth, assessment }) =>
    scoreClocks(checklistOf(narration.skill, narration.variants).steps, truth, assessment),
  );
  const numbers = marked.flatMap(({ truth, assessment }) => scoreNumbers(truth, assessment));
  console.log(`short clocks passed: ${clocks.filter(({ enough, met }) => met && !enough).length}`);
  console.log(`numbers wrong: ${numbers.filter(({ verdict }) => verdict === 'wrong').length}`);
}

/** The three steps that are missed most often. */
function worst(of: readonly Written[]): string {
  const count = (ids: readonly string[]): Map<string, number> =>
    new Map([...grouped(ids, (id) => id)].map(([id, all]) => [id, all.length]));
  const missed = count(of.flatMap(({ credits }) => credits.missed));
  const hits = count(of.flatMap(({ credits }) => credits.hits));
  return [...missed]
    .sort(([, a], [, b]) => b - a)
    .slice(0, 3)
    .map(([id, n]) => `${id} ${n}/${n + (hits.get(id) ?? 0)}`)
    .join(', ');
}

function grouped<T>(all: readonly T[], keyOf: (of: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const one of all) groups.set(keyOf(one), [...(groups.get(keyOf(one)) ?? []), one]);
  return groups;
}

async function explain({ narration, truth, assessment, credits }: Written): Promise<void> {
  const said = truth.lines.map(({ say }) => heardClearly(0, say, 0));
  const read = await judged(said, checklistOf(narration.skill, narration.variants));
  const sure = (line: number, id: string): string => {
    const sures = (read[line]!.judged ?? []).flatMap((j) => j.sure[id] ?? []);
    return sures.length > 0 ? Math.max(...sures).toFixed(3) : 'far';
  };
  for (const id of credits.missed) {
    const said = truth.lines.flatMap((line, at) =>
      saysOf(line).includes(id) ? [`${sure(at, id)} “${line.say}”`] : [],
    );
    const { outcome, note } = assessment.steps.find((step) => step.id === id)!;
    console.log(
      `missed ${narration.id} ${id} (${[outcome, note].filter(Boolean).join(', ')}): ${said.join(' ')}`,
    );
  }
  for (const wrong of credits.wrong) {
    const said = linesDuring(truth.lines, wrong).map(({ say }) => `“${say}”`);
    console.log(`FALSE ${wrong.critical ? 'CRITICAL ' : ''}${narration.id} ${wrong.step}: ${said.join(' ')}`);
  }
}

async function reportTraps(): Promise<void> {
  const traps = TRAPS.filter(
    ({ skill, says, heldOut }) => heldOut === (options.split === 'held-out') && inFold(skill, says),
  );
  const places = [
    { name: 'by themselves', any: 0, critical: 0, statesOf: () => [BEFORE] },
    { name: 'while the steps beside have been said', any: 0, critical: 0, statesOf: amid },
  ];
  for (const { skill, kind, says } of traps) {
    const list = checklistOf(skill);
    for (const place of places) {
      const credited: string[] = [];
      for (const state of place.statesOf(list))
        credited.push(...(await creditedBy(list, says, state)).filter((id) => !(id in state.credits)));
      if (credited.length === 0) continue;
      place.any++;
      const isCritical = list.steps.some((step) => step.critical && credited.includes(step.id));
      if (isCritical) place.critical++;
      if (options.verbose)
        console.log(
          `TRAP ${kind} ${skill} ${credited.join(' ')}${isCritical ? ' CRITICAL' : ''}, ${place.name}: “${says}”`,
        );
    }
  }
  for (const { name, any, critical } of places)
    console.log(
      `traps ${name}: ${traps.length}, ${any} credit something (${percent(any / traps.length)}), ${critical} a critical step (${percent(critical / traps.length)})`,
    );
}

function readOptions() {
  const { values } = parseArgs({
    options: {
      split: { type: 'string', default: 'dev' },
      fold: { type: 'string' },
      'texts-only': { type: 'boolean', default: false },
      narration: { type: 'string', default: '' },
      verbose: { type: 'boolean', default: false },
      'no-traps': { type: 'boolean', default: false },
      help: { type: 'boolean', default: false },
    },
  });
  const { split, fold } = values;
  const isFold = fold === undefined || (split === 'dev' && (fold === 'known' || fold === 'strange'));
  if (values.help || !isFold || (split !== 'dev' && split !== 'held-out')) {
    console.error(USAGE);
    process.exit(values.help ? 0 : 2);
  }
  return { ...values, split, fold, textsOnly: values['texts-only'], traps: !values['no-traps'] };
}
