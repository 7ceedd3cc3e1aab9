import {
  isFunctionWord,
  nearlyAlike,
  piecesOf,
  splitBehind,
  stemOf,
  tokenAt,
  tokenize,
  type Token,
} from './words.ts';

/** What a trainee can ask of the coach without touching anything. */
export const COMMANDS = [
  'begin',
  'read card',
  'time left',
  'scrub time',
  'pause',
  'go on',
  'correct',
  'next skill',
  'stop',
] as const;
export type Command = (typeof COMMANDS)[number];

/**
 * Sayings of the commands: "a|b" either word, "(a)" with or without it. {@link SMALL} words and politeness are left out on
 * both sides. "Paws", "plus", "still", "go" are what a recogniser made of "pause" and "skill". A saying must be the whole
 * utterance, or follow the coach's name. Nothing stands here that a skill uses as a cue: "stop" ends a count, "done" ends a
 * scrub, "start now" begins one.
 */
const SAYINGS: Readonly<Record<Command, readonly string[]>> = {
  begin: [
    'i am ready (begin|start)',
    'we ready (begin|start)',
    '(let) (us) begin|start rehearsal|test|practice|session',
    'let us begin|start',
    'i want begin|start (rehearsal|test|practice)',
    'i begin|start rehearsal|test|practice',
    'we can begin|start',
  ],
  'read card': [
    'read|repeat|show card|instructions (again|aloud|back)',
    'read|repeat card|instructions out loud',
    'read out card|instructions (again)',
    '(i) want|like|can hear|see card|instructions (again)',
    '(i) would like hear|see card|instructions (again)',
    'can i hear|see card|instructions (again)',
    'let hear card|instructions (again)',
    'what does card say',
    'what on card',
    'go back card',
    'card again',
  ],
  'time left': [
    'how much (more) time (left|remaining|remains)',
    'how much (more) time do i|we have (left|remaining)',
    'how much time have i|we (got) (left)',
    'how long|longer do i|we have (left)',
    'how much longer do i|we have (left)',
    'how long have i|we got (left)',
    'how long have i|we left',
    'how many minutes left|remaining|remain',
    'how many minutes do i|we have (left)',
    'how many minutes have i|we (got) left',
    'how many minutes have i|we got',
    'what time left',
    'time left|remaining',
  ],
  'scrub time': [
    'how long have|did i|we (been) scrub|rub|wash|count (hands) (for) (far)',
    'how many seconds have|did i|we (been) scrub|rub|wash|count (hands) (for) (far)',
    'how many seconds (far|that)',
    'how long far',
    'scrub time',
  ],
  pause: ['pause|paws|plus (rehearsal|test|practice|session|it)', 'i need|want pause', 'i would like pause'],
  'go on': [
    '(let) (us) go on',
    '(let) (us) carry on',
    '(let) (us) continue|resume (rehearsal|test|practice|session)',
    'go|carry on with rehearsal|test|practice|session',
    'i am ready continue',
    'i am ready go|carry on',
    'we can go|carry on',
    'we can continue',
    'keep going',
    'i am back',
    'end pause',
  ],
  correct: [
    '(i) want|need correct something|step|mistake|that|it|this',
    'i have correct something|step|mistake',
    'i would like correct something|step|mistake|that|it|this',
    'let correct something|step|mistake|that|it|this',
    'can|may i correct something|step|mistake|that|it|this',
    'correct something|step|mistake',
    'i made mistake',
    'i want|need|have (make) correction',
  ],
  'next skill': [
    '(i) (want) (let) (us) (go|move|do|start|begin) (on|with) next skill|still|go',
    'i am ready for next skill|still|go',
  ],
  stop: [
    '(i) (want) stop|end|finish|quit rehearsal|test|practice|session',
    'i would like stop|end|finish rehearsal|test|practice|session',
    'that end rehearsal|test|practice|session',
    '(i) (am|have) (all) finished|done with rehearsal|test|practice|session|skill',
    'i have finished rehearsal|test|practice|session|skill',
    'rehearsal|test|practice|session over|finished',
  ],
};

/**
 * Phrases for the listener's vocabulary. With them three synthetic voices (flite) had 53 of 66 commands understood,
 * without them 45.
 */
export const COMMAND_PHRASES: readonly string[] = [
  'read the card', 'repeat the card', 'how much time is left', 'how long have i scrubbed', 'pause please',
  'pause the rehearsal', 'coach pause', 'coach go on', 'coach how much time', 'coach how long', 'coach read the card',
  'coach stop', 'coach next skill', 'next skill please', 'go on to the next skill', 'go on please', 'carry on please',
  'continue the rehearsal', 'i want to correct something', 'correct a step', 'next skill', 'stop the rehearsal', 'end the test', 'i am finished',
  'i am ready', "let's begin", 'start the rehearsal',
]; // prettier-ignore

/** What the coach is called, and what a recogniser made of it. */
const NAMES = ['coach', 'coat', 'goat'];

/** Said to end a rehearsal, and also to end what is being timed: while a clock runs they are narration. */
const FINISHES = ['i am (all) finished', 'i have finished'];

/** What is enough after the coach's name: "Coach, time." */
const AFTER_NAME: Readonly<Partial<Record<Command, readonly string[]>>> = {
  begin: ['begin|start|ready'],
  'read card': ['card|read|repeat|instructions'],
  'time left': ['time', 'how long left'],
  'scrub time': ['seconds|scrub', 'how long (have) (i|we)'],
  pause: ['wait|hold|break', 'hold on', 'price|bros|boss'],
  'go on': ['go'],
  correct: ['correct (that|it|this)'],
  'next skill': ['next (one)'],
  stop: ['stop|end|finish|finished|done|quit', 'i am done|finished'],
};

/** Politeness, filler and grammar that a command is understood with and without. */
const SMALL = new Set(
  'the a an to me my is are of so just now then okay ok um uh er erm well right alright hey oh please thanks'.split(
    ' ',
  ),
);
const POLITE = / (?:thank you|(?:can|could|would|will) you|let me know|tell me)(?= )/g;

export type Saying = readonly { readonly words: readonly string[]; readonly optional: boolean }[];

/** Sayings as they are written above, made ready to be compared with what is said. */
export const parse = (sayings: readonly string[]): Saying[] =>
  sayings.map((saying) =>
    saying.split(' ').map((part) => ({
      words: part.replace(/[()]/g, '').split('|'),
      optional: part.startsWith('('),
    })),
  );
const whole = COMMANDS.map((command) => ({ command, sayings: parse(SAYINGS[command]) }));
const afterName = COMMANDS.map((command) => ({ command, sayings: parse(AFTER_NAME[command] ?? []) }));
const finishes = [{ command: 'stop', sayings: parse(FINISHES) }] as const;

/** How a command was found in a text. */
export interface FoundCommand {
  readonly command: Command;
  /** The coach was called by name. */
  readonly called: boolean;
  /** Index of the piece of the text at which the command begins; what stands before it is not part of it. */
  readonly from: number;
}

/**
 * The command that a text is, if it is one: the whole of it, give or take politeness and filler, or what follows the
 * coach's name.
 *
 * @param timing whether a clock runs: "I am finished" then ends what is timed, not the rehearsal
 */
export function findCommand(text: string, timing = false): FoundCommand | null {
  const tokens = tokenize(piecesOf(text));
  const name = tokens.findLastIndex((token) => NAMES.some((called) => alike(token, called)));
  if (name >= 0) {
    const after = meaningOf(tokens.slice(name + 1), [...whole, ...finishes, ...afterName]);
    if (after) return { command: after, called: true, from: tokenAt(tokens, name).at };
    // "Pause, coach."
    const before = name === tokens.length - 1 && meaningOf(tokens.slice(0, name), [...whole, ...afterName]);
    if (before) return { command: before, called: true, from: 0 };
  }
  const command = meaningOf(tokens, timing ? whole : [...whole, ...finishes]);
  return command && { command, called: false, from: 0 };
}

type Meanings = readonly { readonly command: Command; readonly sayings: readonly Saying[] }[];

/** The one command that the tokens are, at once or sentence by sentence ("Pause. Pause, please."). */
function meaningOf(tokens: readonly Token[], meanings: Meanings): Command | null {
  const once = (part: readonly Token[]): Command | null => {
    const said = meant(part);
    return meanings.find((m) => m.sayings.some((saying) => fits(saying, said)))?.command ?? null;
  };
  const at = once(tokens);
  if (at) return at;
  const [command, ...others] = splitBehind(tokens, ({ ends }) => ends === '.' || ends === '?')
    .filter((part) => meant(part).length > 0)
    .map(once);
  return command && others.every((other) => other === command) ? command : null;
}

/** The tokens without politeness and filler. */
function meant(tokens: readonly Token[]): Token[] {
  const text = ` ${tokens.map((t) => t.word).join(' ')} `;
  const polite = new Set<number>();
  for (const { index, 0: phrase } of text.matchAll(POLITE)) {
    const first = text.slice(0, index + 1).split(' ').length - 2;
    for (let i = 0; i < phrase.trim().split(' ').length; i += 1) polite.add(first + i);
  }
  return tokens.filter((token, i) => !polite.has(i) && !SMALL.has(token.word));
}

/** Whether what was said, give or take politeness and filler, is one of the sayings. */
export function saysOneOf(sayings: readonly Saying[], tokens: readonly Token[]): boolean {
  const said = meant(tokens);
  return said.length > 0 && sayings.some((saying) => fits(saying, said));
}

/** Whether the saying is exactly what was said. */
function fits(saying: Saying, said: readonly Token[]): boolean {
  const [part, ...rest] = saying;
  if (!part) return said.length === 0;
  if (part.optional && fits(rest, said)) return true;
  const [token, ...others] = said;
  return token !== undefined && part.words.some((word) => alike(token, word)) && fits(rest, others);
}

/** Words of narration that are spelt nearly like one of a command: "Slowly, carefully" is not "show card". */
const NARRATED = new Set(['care', 'careful', 'carefully']);

/** Whether a token is the word, an inflection of it, or nearly it. */
function alike(token: Token, word: string): boolean {
  if (token.word === word) return true;
  if (NARRATED.has(token.word)) return false;
  if (isFunctionWord(token.word) || isFunctionWord(word)) return false;
  const stem = stemOf(word);
  return token.stem === stem || nearlyAlike(token.word, word) || nearlyAlike(token.stem, stem);
}
