import { isMap, isNode, isSeq, LineCounter, parseDocument, Scalar, type Document, type YAMLSeq } from 'yaml';
import { z } from 'zod';
import type { Path } from '../../app/faults/faults.ts';

/**
 * A skill file's text edited field by field, as a form does it. The text is the truth: each edit gives the whole text
 * again, in which comments, and all lines that the edit is not about, stay as they were.
 */

const word = z.union([z.string(), z.number(), z.boolean()]).transform(String).catch('');
const words = z.array(word).catch([]);
const StepView = z.object({
  /** The shared step that is taken in; empty for one of the skill's own. */
  use: word,
  id: word,
  text: word,
  critical: z.boolean().catch(false),
  plans: z.boolean().catch(false),
  /** What it does with the simulated resident; empty for nothing. */
  bench: word,
  cues: words,
  after: words,
  before: words,
  /** Fields of the evidence as they are, `kind` among them. */
  evidence: z.record(z.string(), z.unknown()).catch({}),
});
const SkillView = z.object({
  id: word,
  title: word,
  version: word,
  change: word,
  card: word,
  /** What a simulated resident is measured for; empty for nothing. */
  bench: word,
  steps: z.array(StepView.catch(StepView.parse({}))).catch([]),
});

/** What a form shows of a skill file, however unfinished. */
export type SkillView = z.infer<typeof SkillView>;
export type StepView = z.infer<typeof StepView>;

/** What a form can show of a text; null while it is no YAML, or no list of fields at all. */
export function viewOf(source: string): SkillView | null {
  const document = parseDocument(source);
  if (document.errors.length > 0 || !isMap(document.contents)) return null;
  return SkillView.safeParse(document.toJS()).data ?? null;
}

/** The name a step goes by. */
export const nameOf = ({ use, id }: StepView): string => id || use;

/** What a field is set to; null, and what is empty, takes it out. */
export type FieldValue = string | number | boolean | readonly string[] | null;

/** Sets a field, or takes it out where there is nothing to say. Entries of a list that stay keep their comments. */
export function setField(source: string, path: Path, value: FieldValue): string {
  return edit(source, (document) => {
    const empty = value === null || value === '' || (Array.isArray(value) && value.length === 0);
    if (empty) return void document.deleteIn(path);
    document.setIn(path, Array.isArray(value) ? listNode(document, path, value) : value);
  });
}

/** Sets what kind of evidence a step takes, with the fields that kind needs, to be filled in. */
export function setKind(source: string, step: number, kind: Kind): string {
  return edit(source, (document) => {
    if (kind === 'said') document.deleteIn(['steps', step, 'evidence']);
    else document.setIn(['steps', step, 'evidence'], document.createNode({ kind, ...KINDS[kind] }));
    if (kind === 'eyes') document.deleteIn(['steps', step, 'cues']);
  });
}

/** The kinds of evidence, and what a new one of each has. */
export const KINDS = {
  said: {},
  eyes: {},
  timed: { atLeast: 20, start: [], stop: [] },
  counted: { atLeast: 3, joint: '', again: [] },
  reading: { unit: '', from: 0, to: 100, value: [] },
} as const;
export type Kind = keyof typeof KINDS;

/** A step to be added: one of the skill's own, or a shared one by its name. */
export type NewStep = { readonly id: string; readonly text: string } | { readonly use: string };

/** Adds a step at the end. */
export function addStep(source: string, step: NewStep): string {
  return edit(source, (document) => {
    const added = document.createNode('use' in step ? step : { ...step, cues: [step.text.toLowerCase()] });
    if (isSeq(document.get('steps'))) {
      (document.get('steps') as YAMLSeq).flow = false;
      document.addIn(['steps'], added);
    } else document.set('steps', document.createNode([added]));
  });
}

/** Takes a step out, with its comments. */
export const removeStep = (source: string, step: number): string =>
  edit(source, (document) => void document.deleteIn(['steps', step]));

/** Moves a step to another place in the order; its comments go with it. */
export function moveStep(source: string, from: number, to: number): string {
  return edit(source, (document) => {
    const steps = document.get('steps');
    if (!isSeq(steps) || !(from in steps.items) || !(to in steps.items)) return;
    // A comment before the first step counts as the list's; it is about the step.
    const [first] = steps.items;
    if (steps.commentBefore && isNode(first)) {
      first.commentBefore = steps.commentBefore;
      steps.commentBefore = null;
    }
    const [moved] = steps.items.splice(from, 1);
    steps.items.splice(to, 0, moved);
  });
}

/** A list of these texts, in which those that were there keep their comments and quotes. */
function listNode(document: Document, path: Path, value: readonly string[]): unknown {
  const old = document.getIn(path, true);
  const olds = isSeq(old) ? [...old.items] : [];
  const fresh = document.createNode([]) as YAMLSeq;
  fresh.items = value.map((text) => {
    const at = olds.findIndex((item) => item instanceof Scalar && item.value === text);
    if (at >= 0) return olds.splice(at, 1)[0];
    const item = new Scalar(text);
    // Cues hold braces and full stops: all of them are quoted, as in the files that come with the program.
    if (SAYINGS.has(String(path.at(-1)))) item.type = Scalar.QUOTE_DOUBLE;
    return item;
  });
  fresh.flow = isSeq(old) ? (old.flow ?? false) : !SAYINGS.has(String(path.at(-1)));
  if (isSeq(old) && old.commentBefore) fresh.commentBefore = old.commentBefore;
  return fresh;
}

const SAYINGS: ReadonlySet<string> = new Set(['cues', 'start', 'stop', 'again', 'value']);

/** Edits a text through its document. A text that is no YAML stays as it is: it must be put right by hand first. */
function edit(source: string, change: (document: Document) => void): string {
  const document = parseDocument(source);
  if (document.errors.length > 0) return source;
  const before = document.toString(WHOLE_LINES);
  change(document);
  return keepLines(source, before, document.toString(WHOLE_LINES));
}

const WHOLE_LINES = { lineWidth: 0 } as const;

/**
 * The edited text with its lines as their author wrote them ("[a]", where the writer of documents has "[ a ]"), moved ones
 * too. What the author spread over several lines stays so as well, where all of it stands on one side of the change.
 */
function keepLines(source: string, before: string, after: string): string {
  const own = source.split('\n');
  const old = before.split('\n');
  const now = after.split('\n');
  // What the writer leaves as it is at both ends, and what it writes otherwise than the author.
  const [head, tail] = endsAlike(old, now, (line) => line);
  const [above, below] = endsAlike(own, old, tight);
  const end = old.length - tail;
  const shift = own.length - old.length;
  const [upper, lower] = [Math.min(head, above), Math.min(tail, below)];
  let [from, to, first, last] = [upper, own.length - lower, upper, lower];
  if (end <= above) [from, to, first, last] = [head, end, head, tail];
  else if (head >= old.length - below) [from, to, first, last] = [head + shift, end + shift, head, tail];
  const written = new Map(own.map((line) => [tight(line), line]));
  const changed = now.slice(first, now.length - last).map((line) => written.get(tight(line)) ?? line);
  const kept = [...own.slice(0, from), ...changed, ...own.slice(to)].join('\n');
  const means = (text: string): string => JSON.stringify(parseDocument(text).toJS());
  return means(kept) === means(after) ? kept : after;
}

/** How many lines two texts have in common at their beginnings, and at their ends. */
function endsAlike(
  a: readonly string[],
  b: readonly string[],
  as: (line: string) => string,
): [head: number, tail: number] {
  const most = Math.min(a.length, b.length);
  const at = (lines: readonly string[], index: number): string => as(lines.at(index) ?? '');
  const alike = (index: number): boolean => at(a, index) === at(b, index);
  let head = 0;
  while (head < most && alike(head)) head += 1;
  let tail = 0;
  while (tail < most - head && alike(-1 - tail)) tail += 1;
  return [head, tail];
}

/** A line without the spaces that a writer sets inside brackets, or not. */
const tight = (line: string): string => line.replace(/([[{])\s+/g, '$1').replace(/\s+([\]}])/g, '$1');

/** The line at which a step begins, from 1; null where the text has no such step. */
export function lineOfStep(source: string, step: number): number | null {
  const lines = new LineCounter();
  const document = parseDocument(source, { lineCounter: lines });
  const node = document.getIn(['steps', step], true);
  return isNode(node) && node.range ? lines.linePos(node.range[0]).line : null;
}
