import type { Evidence } from './assessment.ts';
import type { Checklist, Role } from './checklist.ts';
import { findCounts } from './counts.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import { CREDIT_FROM, settle, type Claim } from './match.ts';
import { findNumbers } from './numbers.ts';
import { findMarkers, splitClauses, type Clause } from './polarity.ts';
import type { Step } from './skill.ts';
import { fold, type State } from './state.ts';
import type { Utterance } from './utterance.ts';
import { tokenize, type Token } from './words.ts';

/** A pause up to this long, in seconds, may fall inside one saying ("drying now… from the fingertips up"). */
const PAUSE_INSIDE_SAYING = 1.5;
/**
 * Below this confidence an utterance's words are asked about, not credited. On the dev corpus clean speech stays above 0.6;
 * lower thresholds let misrecognised babble credit steps.
 */
const CLEAR_FROM = 0.4;
/** Share from which a number is believed without asking, and what a rival may hold at most. */
const SURE_SHARE = 0.9;

interface Reader {
  readonly tokens: readonly Token[];
  readonly clauses: readonly Clause[];
  /** Tokens of the utterance before, put in front because one saying may span the pause. */
  readonly carried: number;
}

/**
 * What an utterance means in a rehearsal: the events it leads to, the `heard` event last. Pure; the state is not changed.
 */
export function interpret(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const reader = read(state, utterance);
  const { tokens, clauses, carried } = reader;
  const markers = findMarkers(tokens, clauses);
  const spent = new Set(state.used);
  const fresh = checklist.matcher
    .find(tokens, clauses, markers)
    .filter((c) => c.to > carried && !c.tokens.some((t) => t < carried && spent.has(t)));
  const joints = activeJoints(checklist, state, fresh);
  const live = fresh.filter((c) => {
    const role = checklist.roles.get(c.target)!;
    if (role.role !== 'movement' || role.form === 'full') return true;
    return joints.has(role.joint) && isCounting(checklist, reader, fresh, c.from);
  });
  const rank = rankSteps(checklist, state);
  const settled = settle(
    live.filter((c) => c.stance === 'asserted'),
    rank,
  );
  const taken = new Set(settled.flatMap((c) => c.tokens));
  const others = settle(
    live.filter((c) => c.stance !== 'asserted'),
    rank,
  ).filter((c) => c.tokens.filter((t) => taken.has(t)).length * 2 <= c.tokens.length);

  const events: RehearsalEvent[] = [];
  let now = state;
  const emit = (event: RehearsalEvent): void => {
    events.push(event);
    now = fold(now, event);
  };
  const evidenceOf = (claim: Pick<Claim, 'from' | 'to' | 'score'>): Evidence =>
    evidence(state, utterance, reader, claim);

  const counting = findCounts(tokens, carried).filter(
    ({ at }) => joints.size > 0 && isCounting(checklist, reader, live, at),
  );
  const moments = [
    ...settled.map((claim) => ({ at: claim.from, claim, count: null })),
    ...others.map((claim) => ({ at: claim.from, claim, count: null })),
    ...counting.map((count) => ({ at: count.at, claim: null, count })),
  ].sort((a, b) => a.at - b.at);

  for (const { claim, count } of moments) {
    if (count) {
      emit({
        type: 'repetition',
        count: count.count,
        evidence: evidenceOf({ from: count.at, to: count.at + 1, score: 1 }),
      });
      continue;
    }
    const role = checklist.roles.get(claim.target)!;
    const proof = evidenceOf(claim);
    if (claim.stance !== 'asserted') {
      if (role.role === 'movement')
        emit({ type: 'movement', step: role.step.id, form: 'named', evidence: proof });
      if (claim.stance === 'doubted')
        emit({ type: 'doubted', step: role.step.id, evidence: proof, why: 'doubt' });
      else if (role.role !== 'stop')
        emit({ type: 'noted', step: role.step.id, evidence: proof, stance: claim.stance });
      continue;
    }
    const doubt = doubtOf(role.step, claim, utterance);
    for (const event of clockMoves(
      checklist,
      now,
      utterance,
      reader,
      moments.map((m) => m.claim),
      claim,
      role,
      doubt,
      proof,
    ))
      emit(event);
    if (doubt) {
      if (role.role !== 'stop' && role.role !== 'value')
        emit({ type: 'doubted', step: role.step.id, evidence: proof, why: doubt });
      continue;
    }
    if (role.role === 'movement')
      emit({ type: 'movement', step: role.step.id, form: role.form, evidence: proof });
    if (role.role === 'step') emit({ type: 'credited', step: role.step.id, evidence: proof });
    if (role.step.evidence.kind === 'reading') {
      const reading = readNumber(role.step, utterance, reader, claim, proof);
      if (reading) emit(reading);
    }
  }
  const credited = settled.filter((c) => !doubtOf(checklist.roles.get(c.target)!.step, c, utterance));
  const used = credited.flatMap((c) => c.tokens.filter((t) => t >= carried).map((t) => t - carried));
  emit({ type: 'heard', utterance, used });
  return events;
}

/**
 * Words of an utterance whose exact times matter, as indexes: those at which a clock starts or stops and which do not
 * stand at the utterance's edge, where the speech detector already knows better.
 */
export function momentsWanted(events: readonly RehearsalEvent[], utterance: Utterance): number[] {
  const inside = events.flatMap((e) => {
    if (e.type !== 'clock') return [];
    const edge = e.move === 'start' ? utterance.words.length - 1 : 0;
    return e.word === edge ? [] : [e.word];
  });
  return [...new Set(inside)];
}

function read(state: State, utterance: Utterance): Reader {
  const before = state.utterances.at(-1);
  const joined = before && utterance.start - before.end <= PAUSE_INSIDE_SAYING;
  const old = joined ? tokenize(before.words) : [];
  const tokens = [...old, ...tokenize(utterance.words)];
  return { tokens, clauses: splitClauses(tokens), carried: old.length };
}

function evidence(
  state: State,
  utterance: Utterance,
  reader: Reader,
  { from, to, score }: Pick<Claim, 'from' | 'to' | 'score'>,
): Evidence {
  const { tokens, carried } = reader;
  const before = state.utterances.at(-1);
  const wordsBefore = from < carried && before ? before.words.slice(tokens[from]!.at) : [];
  const first = from < carried ? 0 : tokens[from]!.at;
  const words = [...wordsBefore, ...utterance.words.slice(first, tokens[to - 1]!.at + 1)];
  return {
    utterance: utterance.id,
    text: words.map((w) => w.text).join(' '),
    start: words[0]?.start ?? utterance.start,
    end: words.at(-1)?.end ?? utterance.end,
    score: Math.min(1, score),
  };
}

/** Joints being moved: those of movements named before and those named in full just now. */
function activeJoints(checklist: Checklist, state: State, claims: readonly Claim[]): Set<string> {
  const named = new Set([...state.counts.since, ...state.counts.current]);
  const joints = new Set<string>();
  for (const step of checklist.steps) {
    if (step.evidence.kind === 'counted' && named.has(step.id)) joints.add(step.evidence.joint);
  }
  const fresh = claims.flatMap((c) => {
    const role = checklist.roles.get(c.target)!;
    return role.role === 'movement' && role.form === 'full' && c.score >= CREDIT_FROM ? [role.joint] : [];
  });
  // Moving on to another joint leaves the first one behind: "up" now means the foot.
  return fresh.length > 0 ? new Set(fresh) : joints;
}

/**
 * Whether a number is a repetition: its clause holds nothing but numbers, movements and small words. "I have one
 * pillow here" does not.
 */
function isCounting(
  checklist: Checklist,
  { tokens, clauses }: Reader,
  claims: readonly Claim[],
  at: number,
): boolean {
  const clause = clauses.find((c) => at >= c.from && at < c.to);
  if (!clause) return false;
  const movements = new Set(
    claims.filter((c) => checklist.roles.get(c.target)!.role === 'movement').flatMap((c) => c.tokens),
  );
  const counted = new Set(findCounts(tokens, 0).map((c) => c.at));
  const strange = tokens
    .slice(clause.from, clause.to)
    .filter(
      (t, i) =>
        !movements.has(clause.from + i) && !counted.has(clause.from + i) && !COUNTING_WORD.test(t.stem),
    );
  return strange.length <= 1;
}
const COUNTING_WORD =
  /^(a|an|the|and|that|it|is|i|am|my|your|this|now|then|so|to|for|we|of|in|at|one|more|time|repetit|rep|number|done|do|good|okay|ok|great|complet|finish|each|way|direct|all|leg|knee|foot|ankl|toe|slow|slowli|gentl|gentli|nice|very|well|up|down|back|out|again|there|go|was|make|count|on|another)$/;

/** Lower is likelier: a step still open and in order before one that is open, before one already credited. */
function rankSteps(checklist: Checklist, state: State): (target: string) => number {
  const credited = (id: string): boolean => (state.credits[id]?.length ?? 0) > 0;
  return (target) => {
    const role = checklist.roles.get(target)!;
    const { id } = role.step;
    const index = checklist.steps.indexOf(role.step) / 1000;
    if (credited(id) && role.role === 'step') return 3 + index;
    const late = checklist.constraints.some((c) => c.earlier === id && credited(c.later));
    const early = checklist.constraints.some((c) => c.later === id && !credited(c.earlier));
    return (late ? 2 : early ? 1 : 0) + index;
  };
}

function doubtOf(step: Step, claim: Claim, utterance: Utterance): Doubt | null {
  if (claim.score < CREDIT_FROM) return 'faint';
  if (utterance.confidence < CLEAR_FROM) return 'unclear';
  if (step.critical && claim.plainScore < CREDIT_FROM) return 'sounds';
  return null;
}

/** The moves a claim makes on the skill's clocks. */
function clockMoves(
  checklist: Checklist,
  state: State,
  utterance: Utterance,
  reader: Reader,
  claims: readonly (Claim | null)[],
  claim: Claim,
  role: Role,
  doubt: Doubt | null,
  proof: Evidence,
): RehearsalEvent[] {
  const { tokens, clauses, carried } = reader;
  const others = claims.filter((c): c is Claim => c !== null && c !== claim);
  /** End of the sentence a start is said in, but not past the next thing said. */
  const endOfSaying = (): number => {
    const sentence = clauses.find((c) => claim.to - 1 >= c.from && claim.to - 1 < c.to)?.sentence;
    const end = clauses.filter((c) => c.sentence === sentence).at(-1)?.to ?? claim.to;
    const next = Math.min(...others.filter((c) => c.from >= claim.to).map((c) => c.from), end);
    return tokens[Math.max(claim.to, next) - 1]!.at;
  };
  /** Start of the sentence a stop is said in, but not before the end of the last thing said. */
  const startOfSaying = (): number => {
    const sentence = clauses.find((c) => claim.from >= c.from && claim.from < c.to)?.sentence;
    const start = clauses.find((c) => c.sentence === sentence)?.from ?? claim.from;
    const last = Math.max(...others.filter((c) => c.to <= claim.from).map((c) => c.to), start, carried);
    return tokens[Math.min(claim.from, last)]?.at ?? 0;
  };
  const move = (step: string, kind: 'start' | 'halt' | 'stop'): RehearsalEvent => {
    const word = kind === 'start' ? endOfSaying() : claim.from < carried ? 0 : startOfSaying();
    const { start, end, uncertainty } = utterance.words[word] ?? {
      start: utterance.start,
      end: utterance.end,
      uncertainty: 0,
    };
    return {
      type: 'clock',
      step,
      move: kind,
      at: kind === 'start' ? end : start,
      uncertainty,
      word,
      evidence: proof,
    };
  };

  return checklist.steps.flatMap((step): RehearsalEvent[] => {
    if (step.evidence.kind !== 'timed') return [];
    const { parts = [], during = [], pausedBy = [] } = step.evidence;
    const clock = state.clocks[step.id];
    const said = role.step.id;
    if (said === step.id) {
      if (role.role === 'stop') return [move(step.id, 'stop')];
      return role.role === 'start' && !doubt && !clock?.running ? [move(step.id, 'start')] : [];
    }
    if (!clock?.run) return parts.includes(said) && !doubt ? [move(step.id, 'start')] : [];
    if (parts.includes(said)) return doubt || clock.running ? [] : [move(step.id, 'start')];
    if (during.includes(said)) return [];
    if (pausedBy.includes(said)) return clock.running ? [move(step.id, 'halt')] : [];
    // Even a faint "rinsing" ends the scrub: rather too short a time than too long a one. A faint saying of something that
    // is not next in line is likelier a mishearing.
    const next = checklist.constraints.some((c) => c.earlier === step.id && c.later === said);
    return doubt && !next ? [] : [move(step.id, 'stop')];
  });
}

/** The number said with a reading: the last one in its sentence that can be meant. */
function readNumber(
  step: Step,
  utterance: Utterance,
  { tokens, clauses, carried }: Reader,
  claim: Claim,
  proof: Evidence,
): RehearsalEvent | null {
  if (step.evidence.kind !== 'reading') return null;
  const { from, to } = step.evidence;
  const sentence = clauses.find((c) => claim.to - 1 >= c.from && claim.to - 1 < c.to)?.sentence;
  const span = clauses.filter((c) => c.sentence === sentence);
  const first = tokens[Math.max(carried, span[0]?.from ?? 0)]?.at ?? 0;
  const last = tokens[(span.at(-1)?.to ?? tokens.length) - 1]!.at;
  const numbers =
    utterance.numbers ??
    findNumbers(utterance.words.map((w) => w.text)).map((n) => ({ ...n, share: 0, rivals: [] }));
  const number = numbers
    .filter((n) => n.from >= first && n.to <= last + 1 && n.value >= from && n.value <= to)
    .at(-1);
  if (!number) return null;
  const rivals = number.rivals
    .filter((r) => r.value >= from && r.value <= to && r.share > 1 - SURE_SHARE)
    .map((r) => r.value);
  const sure = number.share >= SURE_SHARE && rivals.length === 0;
  return { type: 'reading', step: step.id, value: number.value, sure, rivals, evidence: proof };
}
