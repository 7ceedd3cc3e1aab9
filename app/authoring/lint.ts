import { makeChecklist, stepsOf, type Checklist } from '../skills/checklist.ts';
import { findCommand } from '../language/commands.ts';
import { wordingsOf } from '../matching/cue.ts';
import type { Evidence } from '../marking/assessment.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import type { Fault, Path } from '../faults/faults.ts';
import { interpret } from '../interpreting/interpret.ts';
import { RulesSchema, type Care, type Lexicon, type Skill, type Step } from '../skills/skill.ts';
import { fieldsIn, parseCare, parseSkill, placesIn } from './skillFile.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';
import { heardClearly } from '../language/utterance.ts';
import { spellOut, stemOf } from '../language/words.ts';

/** What a skill's author had better look at. The skill can be used all the same. */
export interface Warning extends Fault {
  readonly kind: 'clash' | 'never credited' | 'misheard' | 'command' | 'one cue' | 'meaning';
}

/** What a saying of a step does where all is well. */
type Purpose = 'credit' | 'start' | 'stop' | 'movement' | 'again' | 'value';

/** A cue, where it stands in the step, and what it is for. */
interface Saying {
  readonly cue: string;
  readonly path: Path;
  readonly purpose: Purpose;
}

/** When a made-up saying is said, in seconds: long after what was said before. */
const LATER = 1000;

/** Wordings of a cue that are tried, spread over all it has: enough to meet every slot's kind, and quick. */
const MOST_WORDINGS = 3;
/** The same for a cue of a shared step, of which many skills have many. */
const MOST_SHARED = 1;

/** Words the longest command has, and some to spare. */
const MOST_COMMAND_WORDS = 9;

/**
 * What the recogniser has made of words of this trade on synthetic voices. What is said through one of
 * these words alone is often not heard.
 */
const MISHEARD: readonly (readonly [said: string, heard: string])[] = [
  ['call light', 'collide'],
  ['gait belt', 'gate valve'],
  ['palms', 'ponds'],
  ['card', 'car'],
];

/** "thirteen" and "thirty" differ in an ending that a running tap swallows. */
const TEEN_OR_TEN = /^(?:(thir|four|for|fif|six|seven|eigh|nine)(teen|ty)|1[3-9]|[3-9]0)$/;

const NO_RULES = RulesSchema.parse({
  schema: 1,
  id: 'lint',
  title: 'Lint',
  share: 1,
  outOfOrderCounts: true,
});

/**
 * Reads a skill and looks for what is likely not meant, in the order of the file. Pure.
 *
 * @throws {FaultyFile} the skill cannot be used at all
 */
export function lintSkill(file: string, source: string, lexicon: Lexicon, care?: Care): Warning[] {
  const skill = parseSkill(file, source, lexicon, care);
  const at = placesIn(file, source);
  const warnings = new Map<string, Warning>();
  const warn = (kind: Warning['kind'], path: Path, message: string): void => {
    const fault = at(path, message);
    // One choice of variants may show again what another has shown.
    const key = [kind, fault.field].join(' ');
    if (!warnings.has(key)) warnings.set(key, { kind, ...fault });
  };

  const stands = fieldsIn(source);
  const tried = new Set<Step>();
  for (const variants of choicesOf(skill)) {
    const fresh = stepsOf(skill, variants).filter((step) => !tried.has(step));
    if (fresh.length === 0) continue;
    const checklist = makeChecklist(skill, lexicon, NO_RULES, variants);
    for (const step of fresh) {
      tried.add(step);
      const here = ['steps', skill.steps.indexOf(step)];
      const most = (path: Path): number => (stands([...here, ...path]) ? MOST_WORDINGS : MOST_SHARED);
      speak(checklist, lexicon, step, most, (kind, path, message) => warn(kind, [...here, ...path], message));
    }
  }
  skill.steps.forEach((step, i) => {
    if (!stands(['steps', i, 'cues']) && !stands(['steps', i, 'evidence'])) return;
    read(step, lexicon, (kind, path, message) => {
      // What is wrong with a shared step's own cues is told once, of the shared step.
      if (stands(['steps', i, ...path])) warn(kind, ['steps', i, ...path], message);
    });
  });
  return [...warnings.values()].sort((a, b) => a.line - b.line || a.column - b.column);
}

/**
 * Reads shared steps and looks for what each shows by itself. Pure.
 *
 * @throws {FaultyFile} they cannot be used at all
 */
export function lintCare(file: string, source: string, lexicon: Lexicon): Warning[] {
  const at = placesIn(file, source);
  const warnings: Warning[] = [];
  parseCare(file, source, lexicon).steps.forEach((step, i) => {
    read(step, lexicon, (kind, path, message) =>
      warnings.push({ kind, ...at(['steps', i, ...path], message) }),
    );
  });
  return warnings;
}

type Warn = (kind: Warning['kind'], path: Path, message: string) => void;

/** Choices of variants that together ask for every step: the defaults, then each other value by itself. */
function choicesOf({ variants }: Skill): Record<string, string>[] {
  return [
    {},
    ...Object.entries(variants).flatMap(([name, { default: usual, options }]) =>
      Object.keys(options)
        .filter((value) => value !== usual)
        .map((value) => ({ [name]: value })),
    ),
  ];
}

function sayingsOf({ cues = [], evidence }: Step): Saying[] {
  const list = (path: Path, from: readonly string[], purpose: Purpose): Saying[] =>
    from.map((cue, k) => ({ cue, path: [...path, k], purpose }));
  const own = (purpose: Purpose): Saying[] => list(['cues'], cues, purpose);
  const more = (name: string, from: readonly string[], purpose: Purpose): Saying[] =>
    list(['evidence', name], from, purpose);
  switch (evidence.kind) {
    case 'timed':
      return [
        ...more('start', evidence.start, 'start'),
        ...own('start'),
        ...more('stop', evidence.stop, 'stop'),
      ];
    case 'counted':
      return [...own('movement'), ...more('again', evidence.again, 'again')];
    case 'reading':
      return [...own('credit'), ...more('value', evidence.value, 'value')];
    case 'said':
      return own('credit');
    case 'eyes':
      return [];
  }
}

/** What each purpose is called where nothing serves it, and where its cues stand. */
const LACKS: Readonly<Partial<Record<Purpose, string>>> = {
  credit: 'nothing that its cues say credits this step',
  start: 'nothing that its cues say starts its time',
  stop: 'nothing that "stop" says ends its time',
  movement: 'nothing that its cues say counts as its movement',
  value: 'nothing that "value" says carries its number',
};

/** Says every cue of a step when it is due, as a perfect recogniser hears it, and looks what comes of it. */
function speak(
  checklist: Checklist,
  lexicon: Lexicon,
  step: Step,
  most: (path: Path) => number,
  warn: Warn,
): void {
  const sayings = sayingsOf(step);
  const due = stateFor(checklist.steps.slice(0, checklist.steps.indexOf(step)));
  const last = stateFor(checklist.steps.filter((other) => other !== step));
  const served = new Set<Purpose>();
  for (const { cue, path, purpose } of sayings) {
    for (const wording of spread(wordingsOf(cue, lexicon), most(path))) {
      const done = whatComesOf(checklist, due, step, purpose, wording);
      if (done.own) served.add(purpose);
      else if (done.others.length > 0) {
        const others = done.others.map((id) => `"${id}"`).join(' and ');
        warn('clash', path, `"${wording}" credits ${others} instead; make it say more, or take it out`);
      }
    }
  }
  for (const purpose of new Set(sayings.map((s) => s.purpose))) {
    const lacks = LACKS[purpose];
    if (served.has(purpose) || lacks === undefined) continue;
    const late = sayings.some(
      (s) =>
        s.purpose === purpose &&
        wordingsOf(s.cue, lexicon).some((w) => whatComesOf(checklist, last, step, purpose, w).own),
    );
    const path = purpose === 'stop' || purpose === 'value' ? ['evidence', purpose] : [];
    if (!late) warn('never credited', path, `${lacks}; say it in other words`);
  }
}

/** Some of a list, from all over it. */
const spread = <T>(all: readonly T[], most: number): T[] =>
  all.filter((_, k) => k % Math.ceil(all.length / most) === 0);

/** What saying a wording does: whether it serves its purpose, and the other steps it credits. */
function whatComesOf(
  checklist: Checklist,
  before: State,
  step: Step,
  purpose: Purpose,
  wording: string,
): { own: boolean; others: string[] } {
  const { evidence, id } = step;
  const number = evidence.kind === 'reading' && purpose === 'value' ? ` ${middle(evidence)}` : '';
  const said = heardClearly(1, wording + number, LATER);
  const events = interpret(checklist, prepared(before, step, purpose), said);
  const serves = (event: RehearsalEvent): boolean => {
    if (!('step' in event) || event.step !== id) return false;
    switch (purpose) {
      case 'credit':
        return event.type === 'credited';
      case 'start':
      case 'stop':
        return event.type === 'clock' && event.move === purpose;
      case 'value':
        return event.type === 'reading';
      case 'movement':
        return event.type === 'movement' && event.form === 'full';
      case 'again':
        return event.type === 'movement' && event.form !== 'named';
    }
  };
  const others = events.flatMap((event) => {
    const credits =
      event.type === 'credited' ||
      (event.type === 'movement' && event.form !== 'named') ||
      (event.type === 'clock' && event.move === 'start');
    return credits && event.step !== id ? [event.step] : [];
  });
  return { own: events.some(serves), others: [...new Set(others)] };
}

const middle = ({ from, to }: { from: number; to: number }): number =>
  Number.isInteger(from) ? from + Math.floor((to - from) / 2) : (from + to) / 2;

const SAID: Evidence = { utterance: 0, text: '', start: 0, end: 0, score: 1 };

/** A rehearsal in which these steps, and no others, are done. */
const stateFor = (steps: readonly Step[]): State =>
  steps.reduce((state, { id }) => fold(state, { type: 'credited', step: id, evidence: SAID }), BEFORE);

/** What must be so for a saying to make sense: a clock that is to stop runs, a joint that is moved on is in hand. */
function prepared(state: State, { id, evidence }: Step, purpose: Purpose): State {
  if (purpose === 'stop')
    return fold(state, {
      type: 'clock',
      step: id,
      move: 'start',
      at: 0,
      uncertainty: 0,
      word: 0,
      evidence: SAID,
    });
  if (purpose === 'again' && evidence.kind === 'counted')
    return fold(state, { type: 'movement', step: id, joint: evidence.joint, form: 'full', evidence: SAID });
  return state;
}

/** What can be seen by reading a step's cues. */
function read(step: Step, lexicon: Lexicon, warn: Warn): void {
  const sayings = sayingsOf(step).map((saying) => ({ ...saying, wordings: wordingsOf(saying.cue, lexicon) }));
  const main = sayings.filter(({ purpose }) => purpose !== 'again' && purpose !== 'value');
  for (const [said, heard] of MISHEARD) {
    const [first] = main;
    if (!first || !main.every(({ wordings }) => wordings.every((w) => says(w, said)))) continue;
    warn(
      'misheard',
      first.path,
      `every cue needs "${said}", often heard as "${heard}"; add one that does without`,
    );
  }
  for (const { wordings, path, purpose } of sayings) {
    const number = numberIn(wordings);
    if (number !== undefined)
      warn(
        'misheard',
        path,
        `"${number}" is easily taken for its like in -teen or -ty; do without the number`,
      );
    const short = wordings.filter((w) => !w.includes(' ') && syllables(w) === 1);
    if (purpose !== 'again' && purpose !== 'value' && short.length > 0) {
      const words = short.slice(0, 3).map((w) => `"${w}"`);
      warn('misheard', path, `${words.join(', ')} alone is too short to be heard surely; add a word`);
    }
    const order = wordings
      .filter((w) => w.split(' ').length <= MOST_COMMAND_WORDS)
      .map((w) => [w, findCommand(w, purpose === 'stop')?.command] as const);
    const [saying, command] = order.find(([, found]) => found !== undefined) ?? [];
    if (command !== undefined)
      warn('command', path, `"${saying}" is the coach's command "${command}" as well; say it otherwise`);
  }
  if (!step.critical) return;
  for (const purpose of new Set(main.map((s) => s.purpose))) {
    const [only, ...more] = main.filter((s) => s.purpose === purpose);
    if (only && more.length === 0)
      warn('one cue', only.path, 'a critical step with one cue fails who says it otherwise; add more');
  }
}

function says(wording: string, said: string): boolean {
  const stems = (text: string): string => ` ${spellOut(text).map(stemOf).join(' ')} `;
  return stems(wording).includes(stems(said));
}

/** A number in -teen or -ty that every wording needs, if there is one. */
function numberIn(wordings: readonly string[]): string | undefined {
  const found = wordings.map((wording) => wording.split(' ').find((word) => TEEN_OR_TEN.test(word)));
  return found.every((number) => number !== undefined) ? found[0] : undefined;
}

/** Syllables of a word, roughly: its groups of vowels, without a silent "e" at the end. */
function syllables(word: string): number {
  const groups = word.match(/[aeiouy]+/g)?.length ?? 0;
  return Math.max(1, /[^aeiouyl]e$/.test(word) && groups > 1 ? groups - 1 : groups);
}
