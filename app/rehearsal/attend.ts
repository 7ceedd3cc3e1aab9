import type { Evidence } from './assessment.ts';
import type { Checklist } from './checklist.ts';
import { findCommand, type Command } from './commands.ts';
import type { RehearsalEvent } from './events.ts';
import { interpret } from './rehearsal.ts';
import { fold, hasBegun, type State } from './state.ts';
import { wordsFrom, type Utterance } from './utterance.ts';

/**
 * What the coach makes of an utterance: a command, an aside, or part of the rehearsal. Pure. The same for a rehearsal as
 * it happens and for the recording of one.
 */
export function attend(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const timing = Object.values(state.clocks).some((clock) => clock.running);
  const found = findCommand(utterance.text, timing && state.paused === null);
  if (found && has(state, found.command)) {
    const narration = interpret(checklist, state, utterance);
    // A skill may use a command's words as a cue: then only the coach's name makes a command of them.
    if (found.called || state.paused !== null || !narration.some(counts)) {
      const before =
        found.from > 0 ? interpretUnlessPaused(checklist, state, wordsFrom(utterance, 0, found.from)) : [];
      const order = wordsFrom(utterance, found.from);
      const evidence = {
        utterance: order.id,
        text: order.words.map((w) => w.text).join(' '),
        start: order.start,
        end: order.end,
        score: 1,
      };
      const at = found.command === 'go on' ? order.end : Math.max(0, order.start - order.uncertainty);
      return [
        ...before,
        { type: 'aside', utterance: order, why: 'command' },
        ...obey(before.reduce(fold, state), found.command, at, evidence),
      ];
    }
  }
  return interpretUnlessPaused(checklist, state, utterance);
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

/** Whether the command has anything to do: "let's begin" and "carry on" are also said to residents. */
function has(state: State, command: Command): boolean {
  if (command === 'begin') return !hasBegun(state);
  if (command === 'go on') return state.paused !== null;
  return true;
}

const counts = (event: RehearsalEvent): boolean =>
  event.type === 'credited' || (event.type === 'clock' && event.move !== 'doubt');

/** What was said before the pause is heard after it at times: recognising takes its time. */
function interpretUnlessPaused(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  if (state.paused === null || utterance.end <= state.paused) return interpret(checklist, state, utterance);
  return [{ type: 'aside', utterance, why: 'paused' }];
}
