import type { Evidence } from '../marking/assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import { clockDoubts } from '../interpreting/clockMoves.ts';
import { findCommand, type Command, type FoundCommand } from '../language/commands.ts';
import { whoseVoice } from './echo.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { evidenceOf, hear } from '../interpreting/hearing.ts';
import { interpret } from '../interpreting/interpret.ts';
import { BEFORE, fold, hasBegun, type State } from '../marking/state.ts';
import { utteranceOf, wordsFrom, type Utterance } from '../language/utterance.ts';

/**
 * What the coach makes of an utterance: its own voice heard back, a command, an aside, or part of the rehearsal. Pure. The
 * same for a rehearsal as it happens and for the recording of one.
 */
export function attend(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const voice = whoseVoice(state.spoken, utterance);
  if (voice.whose === 'coach' || voice.whose === 'both') {
    const left = voice.whose === 'both' ? voice.rest : null;
    const found = left && commandIn(checklist, state, left);
    if (found?.called) return take(state, wordsFrom(left!, found.from), found.command);
    const doubts =
      left && state.paused === null ? interpret(checklist, state, left).flatMap(onlyDoubted) : [];
    const masked = voice.strange >= STRANGE_WORDS ? maskedStop(checklist, state, utterance) : [];
    return [...doubts, ...masked, { type: 'aside', utterance, why: 'echo' }];
  }

  const found = commandIn(checklist, state, utterance);
  if (found) {
    const before = found.from > 0 ? narrate(checklist, state, wordsFrom(utterance, 0, found.from)) : [];
    const order = wordsFrom(utterance, found.from);
    return [...before, ...take(before.reduce(fold, state), order, found.command)];
  }
  const events = narrate(checklist, state, utterance);
  if (voice.whose === 'trainee') return events;
  const named = stepsIn(checklist, voice.coach);
  return events.flatMap((e) => ('step' in e && named.has(e.step) ? onlyDoubted(e) : [e]));
}

/**
 * The events of a command.
 *
 * @param at seconds; a pause begins then
 * @param evidence the words, or null where it was pressed
 */
export function obey(
  state: State,
  command: Command,
  at: number,
  evidence: Evidence | null,
): RehearsalEvent[] {
  const commanded: RehearsalEvent = { type: 'commanded', command, at, evidence };
  if (command === 'pause' && state.paused === null) return [commanded, { type: 'paused', at }];
  if (command === 'go on' && state.paused !== null)
    return [commanded, { type: 'resumed', at: Math.max(at, state.paused) }];
  return [commanded];
}

/** A spoken command is taken: a pause begins with its first word, what goes on goes on after its last. */
function take(state: State, order: Utterance, command: Command): RehearsalEvent[] {
  const { id, words, start, end, uncertainty } = order;
  const evidence = { utterance: id, text: words.map((w) => w.text).join(' '), start, end, score: 1 };
  const at = command === 'go on' ? end : Math.max(0, start - uncertainty);
  return [{ type: 'aside', utterance: order, why: 'command' }, ...obey(state, command, at, evidence)];
}

/**
 * The command in an utterance, if it has one that there is something to do for: "let's begin" and "carry on" are also
 * said to residents. Where a skill uses a command's words as a cue, only the coach's name makes a command of them.
 */
function commandIn(checklist: Checklist, state: State, utterance: Utterance): FoundCommand | null {
  const timing = Object.values(state.clocks).some((clock) => clock.running);
  const found = findCommand(utterance.text, timing && state.paused === null);
  if (!found) return null;
  if (found.command === 'begin' && hasBegun(state)) return null;
  if (found.command === 'go on' && state.paused === null) return null;
  if (found.called || state.paused !== null) return found;
  return interpret(checklist, state, utterance).some(isMark) ? null : found;
}

const isMark = (event: RehearsalEvent): boolean =>
  event.type === 'credited' || (event.type === 'clock' && MOVES.includes(event.move));

/** Moves that start or end a time, as opposed to remarks on a running clock. */
const MOVES: readonly string[] = ['start', 'halt', 'stop'];

/** What was said before a pause is heard after its beginning at times: recognising takes its time. */
function narrate(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  if (state.paused === null || utterance.end <= state.paused) return interpret(checklist, state, utterance);
  return [{ type: 'aside', utterance, why: 'paused' }];
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
  return new Set(interpret(checklist, BEFORE, said).flatMap((e) => ('step' in e ? [e.step] : [])));
}
