import { randomInt } from 'node:crypto';
import { parseArgs } from 'node:util';
import { dataFolder } from '../disk/dataFolder.ts';
import { openLibrary, shelfOf, type Library } from '../library/library.ts';
import { Rehearsals } from '../records/rehearsals.ts';
import { CannotDraw, weaknessOf } from '../skills/draw.ts';
import { hasReading } from '../skills/form.ts';
import { drawTest, pickTest, type TestPlan } from '../run/testPlan.ts';
import { answering, UsageError } from './recorded/answering.ts';
import type { ExitCode, Io } from './io.ts';

export const USAGE = `Usage: sinkside draw [--form ID] [--seed N] [--weakest] [--skills DIR] [--json]

Draws the skills of a mock test by a form and prints them in the order they are to be done.

  --form ID       the form (default: five-skills); "sinkside draw --form ?" lists them
  --seed N        the same seed draws the same skills; without one a new one is taken and printed
  --weakest       the weaker a skill went in past rehearsals, the likelier it is drawn
  --skills DIR    a folder of skill files instead of the program's own
  --json          print one JSON document

Exit codes: 0 drawn, 2 wrong usage, 3 the form cannot be drawn, or faulty files.
`;

/** What `draw` and `mock` take to say which skills. */
export const TEST_OPTIONS = {
  form: { type: 'string' },
  seed: { type: 'string' },
  weakest: { type: 'boolean' },
  pick: { type: 'string' },
  rules: { type: 'string' },
  skills: { type: 'string' },
} as const;

const FORM = 'five-skills';

/** `sinkside draw …` */
export function run(args: string[], io: Io): Promise<ExitCode> {
  return answering(io, async () => {
    const { values, positionals } = parseArgs({
      args,
      allowPositionals: true,
      options: { ...TEST_OPTIONS, json: { type: 'boolean' } },
    });
    if (positionals.length > 0) throw new UsageError(USAGE);
    const library = await openLibrary(values.skills);
    if (values.form === '?') {
      for (const { id, title, rules } of library.forms.values())
        io.out(`${id}: ${title} (rules: ${rules})\n`);
      return 0;
    }
    const plan = await planFrom(library, values);
    io.out(values.json ? `${JSON.stringify(drawnOf(plan), null, 2)}\n` : describePlan(plan));
    return 0;
  });
}

/**
 * The test that the options ask for.
 *
 * @throws {CannotDraw}
 */
export async function planFrom(
  library: Library,
  options: {
    readonly form?: string | undefined;
    readonly seed?: string | undefined;
    readonly weakest?: boolean | undefined;
    readonly pick?: string | undefined;
    readonly rules?: string | undefined;
  },
): Promise<TestPlan> {
  const shelf = shelfOf(library);
  const { form = FORM, seed, weakest, pick } = options;
  const rules = options.rules ?? library.forms.get(form)?.rules ?? library.rules.id;
  if (pick !== undefined)
    return pickTest(
      shelf,
      pick.split(',').map((id) => id.trim()),
      rules,
    );
  const number = seed === undefined ? randomInt(2 ** 31) : Number(seed);
  if (!Number.isInteger(number)) throw new CannotDraw(`--seed takes a whole number, not "${seed}".`);
  const past = weakest ? await new Rehearsals(dataFolder(), library).list() : [];
  return drawTest(shelf, form, number, {
    ...(options.rules !== undefined && { rules: options.rules }),
    ...(weakest && {
      weakness: weaknessOf(
        shelf.skills,
        past.flatMap(({ skills }) => skills),
      ),
    }),
  });
}

const drawnOf = ({ form, rules, seed, checklists }: TestPlan): object => ({
  form,
  rules: rules.id,
  seed,
  skills: checklists.map(({ skill, variants }) => ({ skill: skill.id, title: skill.title, variants })),
});

/** The test as text: its skills in order, and by what it is marked. */
export function describePlan({ form, rules, seed, checklists }: TestPlan): string {
  const skills = checklists.map(({ skill }, i) => {
    const measured = hasReading(skill) ? ' (with a number to record)' : '';
    return `${i + 1}. ${skill.title} [${skill.id}]${measured}`;
  });
  const limit = rules.minutes === undefined ? 'no limit of time' : `${rules.minutes} minutes in all`;
  return [
    ...skills,
    '',
    `Form: ${form}${seed === null ? '' : `, seed ${seed}`}. Rules in force: ${rules.title}, ${limit}. ` +
      `They are this program's own; your programme's handbook decides.`,
    '',
  ].join('\n');
}
