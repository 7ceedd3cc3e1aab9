import { isNode, LineCounter, parseDocument } from 'yaml';
import { z } from 'zod';
import { FaultyFile, fieldOf, type Fault, type Path } from '../faults/faults.ts';
import { FormSchema, type Form } from '../skills/form.ts';
import { NarrationSchema, type Narration } from '../run/narration.ts';
import { BENCH_STEPS, canDo } from '../skills/measure.ts';
import { orderFaults } from '../skills/order.ts';
import {
  CareSchema,
  LexiconSchema,
  RulesSchema,
  SkillSchema,
  type Care,
  type Lexicon,
  type Rules,
  type Skill,
  type Step,
} from '../skills/skill.ts';
import { slotsOf } from '../matching/cue.ts';

/** Makes a fault about the place of a field in a text, or about the deepest part of its path that is there. */
export type At = (path: Path, message: string) => Fault;

/** A YAML text with ways to say where in it something stands. */
function openYaml(file: string, source: string) {
  const lines = new LineCounter();
  const document = parseDocument(source, { lineCounter: lines });
  const fault = (offset: number, field: string, message: string): Fault => {
    const { line, col } = lines.linePos(offset);
    return { file, line: Math.max(line, 1), column: Math.max(col, 1), field, message };
  };
  const at: At = (path, message) => {
    for (let depth = path.length; depth >= 0; depth -= 1) {
      const node = depth === 0 ? document.contents : document.getIn(path.slice(0, depth), true);
      if (isNode(node) && node.range) return fault(node.range[0], fieldOf(path), message);
    }
    return fault(0, fieldOf(path), message);
  };
  return { document, fault, at };
}

/** Where the fields of a YAML text stand. */
export const placesIn = (file: string, source: string): At => openYaml(file, source).at;

/** Whether a field stands in a YAML text itself, rather than in a shared step that it takes in. */
export function fieldsIn(source: string): (path: Path) => boolean {
  const { document } = openYaml('', source);
  return (path) => document.hasIn(path);
}

/**
 * A YAML text read by a schema, with a way to say where in the text a field stands.
 *
 * @param compose what is done to the plain value first; it may add faults
 */
export function readYaml<S extends z.ZodType>(
  file: string,
  source: string,
  schema: S,
  compose: (value: unknown, fault: (path: Path, message: string) => void) => unknown = (value) => value,
) {
  const { document, fault, at } = openYaml(file, source);
  if (document.errors.length > 0) {
    throw new FaultyFile(
      document.errors.map((e) =>
        fault(e.pos[0], '', e.message.replace(/ at line \d+, column \d+:[^]*$/, '')),
      ),
    );
  }
  const faults: Fault[] = [];
  const composed = compose(document.toJS(), (path, message) => faults.push(at(path, message)));
  if (faults.length > 0) throw new FaultyFile(faults);
  const parsed = schema.safeParse(composed);
  if (!parsed.success) {
    throw new FaultyFile(
      parsed.error.issues.flatMap((issue) => {
        const path = issue.path.map((p) => (typeof p === 'symbol' ? String(p) : p));
        const keys = issue.code === 'unrecognized_keys' ? issue.keys : [];
        if (keys.length > 0) return keys.map((key) => at([...path, key], `unknown field "${key}"`));
        return [at(path, issue.message)];
      }),
    );
  }
  return { value: parsed.data, at };
}

/** Reads `skills/lexicon.yaml`. Throws {@link FaultyFile}. */
export function parseLexicon(file: string, source: string): Lexicon {
  return readYaml(file, source, LexiconSchema).value;
}

/** Reads `skills/care.yaml`. Throws {@link FaultyFile}. */
export function parseCare(file: string, source: string, lexicon: Lexicon): Care {
  const { value: care, at } = readYaml(file, source, CareSchema);
  const faults = care.steps.flatMap((step, i) => unknownSlots(['steps', i, 'cues'], step.cues, lexicon, at));
  if (faults.length > 0) throw new FaultyFile(faults);
  return care;
}

/** Reads a narration with its marks. Throws {@link FaultyFile}. */
export function parseNarration(file: string, source: string): Narration {
  return readYaml(file, source, NarrationSchema).value;
}

/** Reads a form. Throws {@link FaultyFile}. */
export function parseForm(file: string, source: string): Form {
  return readYaml(file, source, FormSchema).value;
}

/** Reads a rules file. Throws {@link FaultyFile}. */
export function parseRules(file: string, source: string): Rules {
  return readYaml(file, source, RulesSchema).value;
}

const NO_CARE: Care = { schema: 1, steps: [] };

function unknownSlots(path: Path, cues: readonly string[] | undefined, lexicon: Lexicon, at: At): Fault[] {
  return (cues ?? []).flatMap((cue, k) =>
    slotsOf(cue)
      .filter((slot) => !(slot in lexicon.slots))
      .map((slot) => at([...path, k], `unknown slot {${slot}}: the lexicon has no such entry`)),
  );
}

const Steps = z.looseObject({ steps: z.array(z.unknown()) });
const Use = z.looseObject({ use: z.string() });
const Named = z.looseObject({ id: z.string() });

/**
 * Puts the shared step in the place of every entry that uses one. What the entry says goes before what the shared step
 * says; lists of cues and orders are joined, its own first. Orders against steps that this skill does not have fall away.
 */
function useCare(care: Care): (value: unknown, fault: (path: Path, message: string) => void) => unknown {
  return (value, fault) => {
    const skill = Steps.safeParse(value).data;
    if (!skill) return value;
    const ids = new Set(
      skill.steps.map((entry) => Use.safeParse(entry).data?.use ?? Named.safeParse(entry).data?.id),
    );
    const steps = skill.steps.map((entry, i) => {
      const own = Use.safeParse(entry).data;
      if (!own) return entry;
      const { use, ...rest } = own;
      const shared = care.steps.find(({ id }) => id === use);
      if (!shared) {
        const names = care.steps.map(({ id }) => id).join(', ');
        fault(['steps', i, 'use'], `there is no shared step "${use}"; there is: ${names}`);
        return entry;
      }
      const joined = (name: 'cues' | 'after' | 'before'): object => {
        const theirs = shared[name] ?? [];
        const mine = rest[name] ?? [];
        if (!Array.isArray(mine)) return { [name]: mine };
        const all = [
          ...new Set([
            ...(mine as unknown[]),
            ...(name === 'cues' ? theirs : theirs.filter((id) => ids.has(id))),
          ]),
        ];
        return all.length > 0 ? { [name]: all } : { [name]: undefined };
      };
      return { ...shared, ...rest, ...joined('cues'), ...joined('after'), ...joined('before') };
    });
    return { ...skill, steps };
  };
}

/**
 * Reads a skill file and checks it against itself, the lexicon and the shared steps. Throws {@link FaultyFile} with all
 * faults.
 */
export function parseSkill(file: string, source: string, lexicon: Lexicon, care: Care = NO_CARE): Skill {
  const { value: skill, at } = readYaml(file, source, SkillSchema, useCare(care));
  const indexOf = (id: string | undefined): number => skill.steps.findIndex((step) => step.id === id);
  const faults = skill.steps.flatMap(({ id }, i) => {
    const first = indexOf(id);
    const message = `duplicate id "${id}": step ${first + 1} has it already`;
    return first < i ? [at(['steps', i, 'id'], message)] : [];
  });
  skill.steps.forEach((step, i) => faults.push(...stepFaults(skill, step, ['steps', i], lexicon, at)));
  if (faults.length === 0)
    for (const cycle of orderFaults(skill.steps)) {
      const circle = [...cycle, cycle[0]].join(' → ');
      const message = `the order runs in a circle: ${circle}; take one of these out`;
      faults.push(at(['steps', indexOf(cycle[0])], message));
    }
  if (faults.length > 0) throw new FaultyFile(faults);
  return skill;
}

/** What is wrong with a step beside its skill and the lexicon. */
function stepFaults(
  { steps, variants, bench: measure }: Skill,
  { after, before, directlyAfter, cues, evidence, bench, when }: Step,
  here: Path,
  lexicon: Lexicon,
  at: At,
): Fault[] {
  const known = (path: Path, ids: readonly string[] = []): Fault[] =>
    ids.flatMap((other, k) =>
      steps.some(({ id }) => id === other) ? [] : [at([...path, k], `no step has the id "${other}"`)],
    );
  const spelled = (path: Path, said: readonly string[] | undefined): Fault[] =>
    unknownSlots(path, said, lexicon, at);
  const faults = [...known([...here, 'after'], after), ...known([...here, 'before'], before)];
  if (directlyAfter !== undefined && !steps.some(({ id }) => id === directlyAfter))
    faults.push(at([...here, 'directlyAfter'], `no step has the id "${directlyAfter}"`));
  if (bench !== undefined && !(measure && canDo(measure, bench))) {
    const can = measure
      ? `one of: ${BENCH_STEPS[measure].join(', ')}`
      : 'nothing: the skill names no measure under "bench"';
    faults.push(
      at([...here, 'bench'], `"${bench}" cannot be done with its simulated resident; a step can do ${can}`),
    );
  }
  faults.push(...spelled([...here, 'cues'], cues));
  const inside = [...here, 'evidence'];
  if (evidence.kind === 'timed') {
    for (const list of ['parts', 'during', 'pausedBy'] as const)
      faults.push(...known([...inside, list], evidence[list]));
    for (const list of ['start', 'stop'] as const) faults.push(...spelled([...inside, list], evidence[list]));
  }
  if (evidence.kind === 'counted') faults.push(...spelled([...inside, 'again'], evidence.again));
  if (evidence.kind === 'reading') {
    faults.push(...spelled([...inside, 'value'], evidence.value));
    if (evidence.from > evidence.to) faults.push(at([...inside, 'from'], 'from is larger than to'));
  }
  for (const [name, value] of Object.entries(when ?? {})) {
    const options = variants[name]?.options;
    if (!options) faults.push(at([...here, 'when', name], `the skill has no variant "${name}"`));
    else if (!(value in options)) {
      const message = `"${value}" is none of the options (${Object.keys(options).join(', ')})`;
      faults.push(at([...here, 'when', name], message));
    }
  }
  return faults;
}
