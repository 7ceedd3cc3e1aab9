import type { Utterance, Word } from '../language/utterance.ts';
import { isFunctionWord, spellOut, tokenAt } from '../language/words.ts';
import type { Evidence } from '../marking/assessment.ts';
import { NEW_CLOCK, type Clock } from '../marking/clocks.ts';
import type { Doubt, RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import type { Checklist, Role } from '../skills/checklist.ts';
import type { Step } from '../skills/skill.ts';
import { sentenceAt, wordAt, type Hearing, type Span } from './hearing.ts';

/** A saying that stands, and what it means. */
export interface Saying {
  readonly span: Span;
  readonly role: Role;
  /** Said as it begins: "I'm going to scrub". */
  readonly announced: boolean;
  readonly doubt: Doubt | null;
  readonly evidence: Evidence;
}

type ClockEvent = RehearsalEvent & { readonly type: 'clock' };
type Move = ClockEvent['move'];
type Timed = Step['evidence'] & { readonly kind: 'timed' };

/**
 * The moves a saying makes on the skill's clocks. A clock starts at the end of the whole sentence that starts it, or of the
 * whole utterance where that only announces it: whatever else is said in that breath never makes the clock longer. It stops
 * at the beginning of the saying that stops it, after what `others` say.
 */
export function clockMoves(
  checklist: Checklist,
  state: State,
  hearing: Hearing,
  saying: Saying,
  others: readonly Span[],
): ClockEvent[] {
  return checklist.steps.flatMap(({ id, evidence }) => {
    if (evidence.kind !== 'timed') return [];
    const move = moveOf(checklist, state, hearing.utterance, saying, { id, evidence });
    return move ? [clockEvent(id, move, hearing, saying, others)] : [];
  });
}

/** The event of a move, with the moment at which it is made. */
function clockEvent(
  step: string,
  move: Move,
  hearing: Hearing,
  { span, announced, evidence }: Saying,
  others: readonly Span[],
): ClockEvent {
  const { utterance, tokens, carried } = hearing;
  const starts = move === 'start';
  const end = announced ? tokens.length : sentenceAt(hearing, span.to - 1).to;
  const token = tokenAt(tokens, starts ? end - 1 : startOfSaying(hearing, span, others));
  const word = !starts && span.from < carried ? 0 : token.at;
  const heard = wordAt(utterance, word);
  const isAtEdge = word === (starts ? utterance.words.length - 1 : 0);
  return {
    type: 'clock',
    step,
    move,
    ...(starts && announced && { announced }),
    at: starts ? heard.end : heard.start,
    uncertainty: isAtEdge ? utterance.uncertainty : heard.uncertainty,
    word,
    evidence,
  };
}

/** What a saying does to the clock of one timed step; null where it leaves it alone. */
function moveOf(
  { constraints }: Checklist,
  state: State,
  utterance: Utterance,
  { role, doubt }: Saying,
  { id, evidence: { parts = [], during = [], pausedBy = [] } }: { id: string; evidence: Timed },
): Move | null {
  const said = role.step.id;
  const clock = state.clocks[id] ?? NEW_CLOCK;
  const begins = (): Move | null => (doubt ? null : begin(clock, said === id, utterance));
  if (said === id) {
    // "I would stop after a minute" stops nothing, and may be a stop misheard.
    if (role.role === 'stop') return doubt === 'told' ? 'doubt' : 'stop';
    return begins();
  }
  if (parts.includes(said)) {
    // A part named too early ("wetting my hands and both wrists") or too late ("drying… to the wrists") starts nothing.
    const isDue = constraints.every(
      ({ earlier, later }) =>
        (later !== id || earlier in state.credits) && (earlier !== id || !(later in state.credits)),
    );
    return clock.run || isDue ? begins() : null;
  }
  if (!clock.run || during.includes(said)) return null;
  if (pausedBy.includes(said)) return clock.running ? 'halt' : null;
  // Even a faint "rinsing" ends the scrub: rather too short a time than too long a one. A faint saying of something
  // that is not next in line is likelier a mishearing.
  const isNext = constraints.some((c) => c.earlier === id && c.later === said);
  return doubt && !isNext ? null : 'stop';
}

/**
 * What the saying of a timed step or of a part of it does to its clock.
 *
 * @param isItself whether the step itself is said
 */
function begin({ running, doubtedFrom }: Clock, isItself: boolean, utterance: Utterance): Move | null {
  if (!running) return 'start';
  // A part said later shows that what was announced has begun; its own name said again begins it now.
  if (running.announced && (isItself || utterance.start < running.at)) return isItself ? 'start' : null;
  // What is itself unclear takes no doubt away: one "lace" in a misheard sentence passed a scrub of 19.5 s.
  const isOpen = doubtedFrom !== null || running.announced === true;
  return isOpen && isClear(utterance) ? 'on' : null;
}

/**
 * Confidence below which talk that means nothing may have been a misheard "that's twenty seconds". On the corpus clear
 * talk stays above 0.8; a stop saying garbled at 10 dB came with 0.70, and a scrub of 19.5 s passed.
 */
const CLEAR_TALK = 0.75;
/**
 * And of each word of content: misheard ones ("sofa down" for "soap off, down") have less in otherwise clear talk. On the dev
 * narrations nearly all below 0.4 were misheard, and most above 0.5 right.
 */
const CLEAR_WORD = 0.4;

function isClear({ confidence, words }: Utterance): boolean {
  const heard = ({ text, confidence: sure = 1 }: Word): boolean =>
    sure >= CLEAR_WORD || spellOut(text).every(isFunctionWord);
  return confidence >= CLEAR_TALK && words.every(heard);
}

/** Doubts for the clocks that run while something unclear is said: it may have stopped them. */
export function clockDoubts(
  { steps }: Checklist,
  state: State,
  { utterance }: Hearing,
  evidence: Evidence,
): RehearsalEvent[] {
  if (isClear(utterance)) return [];
  return steps.flatMap(({ id }): RehearsalEvent[] => {
    if (!state.clocks[id]?.running) return [];
    const { start, uncertainty } = utterance;
    return [{ type: 'clock', step: id, move: 'doubt', at: start, uncertainty, word: 0, evidence }];
  });
}

/** Where the talk begins that leads to a saying: "Time to rinse. I'm rinsing…" ends the scrub with its first word. */
function startOfSaying({ carried }: Hearing, span: Span, others: readonly Span[]): number {
  const last = others.filter((o) => o.to <= span.from).map((o) => o.to);
  return Math.max(carried, Math.min(span.from, Math.max(0, ...last)));
}
