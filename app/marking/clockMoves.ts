import type { Evidence } from './assessment.ts';
import type { Checklist, Role } from '../skills/checklist.ts';
import type { Clock } from './clocks.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import { sentenceAt, type Hearing, type Span } from './hearing.ts';
import type { State } from './state.ts';
import type { Utterance, Word } from '../language/utterance.ts';
import { isFunctionWord, spellOut } from '../language/words.ts';

/** A saying that stands, and what it means. */
export interface Saying {
  readonly span: Span;
  readonly role: Role;
  /** Said as it begins: "I'm going to scrub". */
  readonly announced: boolean;
  readonly doubt: Doubt | null;
  readonly evidence: Evidence;
}

type Move = 'start' | 'on' | 'halt' | 'stop' | 'doubt';

/**
 * The moves a saying makes on the skill's clocks. A clock starts at the end of the whole sentence that starts it, or of the
 * whole utterance where that only announces it: whatever else is said in that breath never makes the clock longer. It stops
 * at the beginning of the saying that stops it, after what `others` say.
 */
export function clockMoves(
  { steps, constraints }: Checklist,
  state: State,
  hearing: Hearing,
  { span, role, announced, doubt, evidence }: Saying,
  others: readonly Span[],
): RehearsalEvent[] {
  const { utterance, tokens, carried } = hearing;
  const said = role.step.id;

  const move = (step: string, kind: Move): RehearsalEvent[] => {
    const starts = kind === 'start';
    const end = announced ? tokens.length : sentenceAt(hearing, span.to - 1).to;
    const token = starts ? end - 1 : startOfSaying(hearing, span, others);
    const word = !starts && span.from < carried ? 0 : tokens[token]!.at;
    const { start, end: over, uncertainty } = utterance.words[word]!;
    const edge = word === (starts ? utterance.words.length - 1 : 0);
    return [
      {
        type: 'clock',
        step,
        move: kind,
        ...(starts && announced && { announced }),
        at: starts ? over : start,
        uncertainty: edge ? utterance.uncertainty : uncertainty,
        word,
        evidence,
      },
    ];
  };

  const begin = (step: string, clock: Clock | undefined): RehearsalEvent[] => {
    if (doubt) return [];
    const { running = null, doubtedFrom = null } = clock ?? {};
    if (!running) return move(step, 'start');
    // A part said later shows that what was announced has begun; its own name said again begins it now.
    const begins = running.announced === true && (said === step || utterance.start < running.at);
    if (begins) return said === step ? move(step, 'start') : [];
    // What is itself unclear takes no doubt away: one "lace" in a misheard sentence passed a scrub of 19.5 s.
    const open = doubtedFrom !== null || running.announced === true;
    return open && isClear(utterance) ? move(step, 'on') : [];
  };

  return steps.flatMap((step): RehearsalEvent[] => {
    if (step.evidence.kind !== 'timed') return [];
    const { parts = [], during = [], pausedBy = [] } = step.evidence;
    const clock = state.clocks[step.id];
    if (said === step.id) {
      // "I would stop after a minute" stops nothing, and may be a stop misheard.
      if (role.role === 'stop') return move(step.id, doubt === 'told' ? 'doubt' : 'stop');
      return begin(step.id, clock);
    }
    // A part named too early ("wetting my hands and both wrists") or too late ("drying… to the wrists") starts nothing.
    const heard = ({ earlier, later }: { earlier: string; later: string }): boolean =>
      later === step.id ? earlier in state.credits : !(later in state.credits);
    if (parts.includes(said))
      return clock?.run ||
        constraints.filter((c) => c.later === step.id || c.earlier === step.id).every(heard)
        ? begin(step.id, clock)
        : [];
    if (!clock?.run || during.includes(said)) return [];
    if (pausedBy.includes(said)) return clock.running ? move(step.id, 'halt') : [];
    // Even a faint "rinsing" ends the scrub: rather too short a time than too long a one. A faint saying of something
    // that is not next in line is likelier a mishearing.
    const next = constraints.some((c) => c.earlier === step.id && c.later === said);
    return doubt && !next ? [] : move(step.id, 'stop');
  });
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
