import { askedIn } from './atBench/atBench.ts';
import { obey } from './carryOut.ts';
import { clockDoubts } from '../interpreting/clockMoves.ts';
import { whoseVoice } from './echo.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { evidenceOf, hear } from '../interpreting/hearing.ts';
import { interpret } from '../interpreting/interpret.ts';
import { BEFORE, fold, hasBegun, type State } from '../marking/state.ts';
import { findCommand, type Command, type FoundCommand } from '../language/commands.ts';
import { utteranceOf, wordsFrom, type Utterance } from '../language/utterance.ts';
import type { Checklist } from '../skills/checklist.ts';

/** What an utterance is, final or not. */
export type Said =
  /** The coach's own voice heard back; `rest` is what a mixture holds beside it, `strange` its words that are not the coach's. */
  | { readonly kind: 'echo'; readonly rest: Utterance | null; readonly strange: number }
  /** `order` is the part that commands, `before` what was said in the same breath; null where there is nothing to mark. */
  | {
      readonly kind: 'command';
      readonly command: Command;
      readonly order: Utterance;
      readonly before: Utterance | null;
    }
  | { readonly kind: 'talk in a pause' }
  /** Said to an instrument of the simulated resident's. */
  | { readonly kind: 'to an instrument' }
  /** What it means, and what the coach said at the same time; null where it was silent. */
  | {
      readonly kind: 'narration';
      readonly events: readonly RehearsalEvent[];
      readonly coach: string | null;
    };

/** Tells a command, the coach's own voice and talk in a pause from narration. Pure. */
export function tell(checklist: Checklist, state: State, utterance: Utterance): Said {
  const voice = whoseVoice(state.spoken, utterance);
  switch (voice.whose) {
    case 'trainee':
      return tellTrainee(checklist, state, utterance, null);
    case 'trainee over coach':
      return tellTrainee(checklist, state, utterance, voice.coach);
    case 'coach':
      return { kind: 'echo', rest: null, strange: voice.strange };
    case 'both': {
      const { rest, strange } = voice;
      const found = commandIn(state, rest);
      return found?.called ? { ...orderOf(rest, found), before: null } : { kind: 'echo', rest, strange };
    }
  }
}

/**
 * What the coach makes of an utterance: its own voice heard back, a command, an aside, or part of the rehearsal. Pure. The
 * same for a rehearsal as it happens and for the recording of one.
 */
export function attend(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const said = tell(checklist, state, utterance);
  switch (said.kind) {
    case 'echo':
      return [
        ...(said.rest && state.paused === null
          ? interpret(checklist, state, said.rest).flatMap(onlyDoubted)
          : []),
        ...(said.strange >= STRANGE_WORDS ? maskedStop(checklist, state, utterance) : []),
        { type: 'aside', utterance, why: 'echo' },
      ];
    case 'command': {
      const before = said.before ? narrate(checklist, state, said.before) : [];
      return [...before, ...takeOrder(before.reduce(fold, state), said.order, said.command)];
    }
    case 'talk in a pause':
      return [{ type: 'aside', utterance, why: 'paused' }];
    case 'to an instrument':
      return [{ type: 'aside', utterance, why: 'bench' }];
    case 'narration': {
      if (said.coach === null) return [...said.events];
      const named = stepsIn(checklist, said.coach);
      return said.events.flatMap((e) => (named.has(stepOf(e) ?? '') ? onlyDoubted(e) : [e]));
    }
  }
}

/** The step that an event is about; null where it is about none. */
export function stepOf(event: RehearsalEvent): string | null {
  switch (event.type) {
    case 'credited':
    case 'doubted':
    case 'noted':
    case 'clock':
    case 'movement':
    case 'reading':
    case 'confirmed':
    case 'taken back':
    case 'repaired':
    case 'tentative':
    case 'withdrawn':
      return event.step;
    default:
      return null;
  }
}

/** Interprets an utterance at most once: its meaning decides whether an uncalled command is one. */
function tellTrainee(checklist: Checklist, state: State, utterance: Utterance, coach: string | null): Said {
  const found = commandIn(state, utterance);
  if (found && (found.called || state.paused !== null)) return orderOf(utterance, found);
  if (isInPause(state, utterance)) return { kind: 'talk in a pause' };
  const events = interpret(checklist, state, utterance);
  if (events.some((event) => isMark(state, event))) return { kind: 'narration', events, coach };
  // Where a skill uses a command's words as a cue, only the coach's name makes a command of them.
  if (found) return orderOf(utterance, found);
  const isAsked = askedIn(checklist, state, utterance.text).length > 0;
  return isAsked ? { kind: 'to an instrument' } : { kind: 'narration', events, coach };
}

/**
 * The command in an utterance, if it has one that there is something to do for: "let's begin" and "carry on" are also
 * said to residents.
 */
function commandIn(state: State, { text }: Utterance): FoundCommand | null {
  const timing = Object.values(state.clocks).some((clock) => clock.running);
  const found = findCommand(text, timing && state.paused === null);
  if (found?.command === 'begin' && hasBegun(state)) return null;
  if (found?.command === 'go on' && state.paused === null) return null;
  return found;
}

const orderOf = (utterance: Utterance, { command, from }: FoundCommand): Said & { kind: 'command' } => ({
  kind: 'command',
  command,
  order: wordsFrom(utterance, from),
  before: from > 0 ? wordsFrom(utterance, 0, from) : null,
});

/** Whether an event is one that a step's mark rests on. The stop of a clock that stands is none: "stop the rehearsal" after the count. */
const isMark = ({ clocks }: State, event: RehearsalEvent): boolean => {
  if (event.type !== 'clock') return event.type === 'credited';
  return event.move === 'start' || (MOVES.includes(event.move) && Boolean(clocks[event.step]?.run));
};

/** Moves that end a time, as opposed to remarks on a running clock. */
const MOVES: readonly string[] = ['halt', 'stop'];

/** What was said before a pause is heard after its beginning at times: recognising takes its time. */
const isInPause = ({ paused }: State, { end }: Utterance): boolean => paused !== null && end > paused;

const narrate = (checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] =>
  isInPause(state, utterance)
    ? [{ type: 'aside', utterance, why: 'paused' }]
    : interpret(checklist, state, utterance);

/** The events of a spoken command: a pause begins with its first word, what goes on goes on after its last. */
function takeOrder(state: State, order: Utterance, command: Command): RehearsalEvent[] {
  const { id, words, start, end, uncertainty } = order;
  const evidence = { utterance: id, text: words.map((w) => w.text).join(' '), start, end, score: 1 };
  const at = command === 'go on' ? end : Math.max(0, start - uncertainty);
  return [{ type: 'aside', utterance: order, why: 'command' }, ...obey(state, command, at, evidence)];
}

/**
 * What an event comes to where the coach's voice is mixed in: nothing is credited, started, counted or read; what would be
 * is asked about. A clock still halts and stops: rather too short a time than too long a one.
 */
function onlyDoubted(event: RehearsalEvent): RehearsalEvent[] {
  switch (event.type) {
    case 'doubted':
    case 'noted':
      return [event];
    case 'clock':
      if (event.move === 'start')
        return [{ type: 'doubted', step: event.step, evidence: event.evidence, why: 'unclear' }];
      return SHORTENS.includes(event.move) ? [event] : [];
    case 'credited':
    case 'movement':
    case 'reading':
      return [{ type: 'doubted', step: event.step, evidence: event.evidence, why: 'unclear' }];
    default:
      return [];
  }
}

/** What a mixture may do to a clock. */
const SHORTENS: readonly string[] = ['halt', 'stop', 'doubt'];

/** Words that are not the coach's from which an echo may hide a saying: "scrubbing done" has two, a garbled word is one. */
const STRANGE_WORDS = 2;

/** Doubts for the clocks that run while the coach speaks over something. */
function maskedStop(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const hearing = hear({ ...utterance, confidence: 0 }, undefined);
  const all = evidenceOf(hearing, { from: 0, to: hearing.tokens.length }, 0);
  return state.paused === null ? clockDoubts(checklist, state, hearing, all) : [];
}

/** The steps that a text names, in whatever way. */
function stepsIn(checklist: Checklist, text: string): ReadonlySet<string> {
  const said = utteranceOf({ id: 0, text, start: 0, end: 0 });
  return new Set(interpret(checklist, BEFORE, said).flatMap((e) => stepOf(e) ?? []));
}
