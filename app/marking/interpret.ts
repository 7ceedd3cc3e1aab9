import type { Outcome } from './assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import { clockDoubts, clockMoves } from './clockMoves.ts';
import { admits, corrects } from '../language/correction.ts';
import { goesOn, LARGEST_LEAP, type SaidCount } from './counts.ts';
import { goesAgainst } from '../language/direction.ts';
import type { Doubt, RehearsalEvent } from './events.ts';
import { evidenceOf, hear, sentenceAt, type Hearing } from './hearing.ts';
import { takenAs } from '../skills/manner.ts';
import { CREDIT_FROM, PLAIN_FROM, settle, strength, type Claim } from '../skills/match.ts';
import { clauseAt } from '../language/clauses.ts';
import { mannerOf } from '../language/stance.ts';
import { readNumber } from './readings.ts';
import {
  countsIn,
  jointsAt,
  jointsBehind,
  movementOf,
  withoutEchoes,
  withoutStrayShorts,
} from './repetition.ts';
import { agrees, lacksDenial, meantIn, objects, surenessAt, type Meant } from './meaning.ts';
import { outcomesOf } from './result.ts';
import {
  addedBy,
  compared,
  isWhole,
  secondHearing,
  takeAdded,
  type Added,
  type SecondHearing,
} from './secondHearing.ts';
import type { Step, Taken } from '../skills/skill.ts';
import { fold, type State } from './state.ts';
import type { Utterance } from '../language/utterance.ts';

/**
 * Below this confidence an utterance's words are asked about, not credited. On the dev half of the corpus clean speech
 * stays above 0.6; lower thresholds let misrecognised babble credit steps.
 */
const CLEAR_FROM = 0.4;

/**
 * And below this one a word: "but weave my fingers" was "between my fingers", of which it had been said that they were not
 * done. On 21 dev narrations (joe, clean and beside a tap at 10 dB) ten right credits and no false one have less than 0.1, on
 * speech that has nothing to do with the skills one false one less than 0.05.
 */
const WORD_FROM = 0.05;
/** The same for a critical step. Words misheard beside a loud tap seldom have as much, right ones in clear speech mostly. */
const CRITICAL_WORD_FROM = 0.2;

/**
 * Places in the list at which a step that has been said speaks for another: with one of those said, one word of a saying's
 * own is enough, and the others may sound like it. Without, it needs {@link PLAIN_FROM}, and over two sentences as much as
 * a critical step.
 */
const NEIGHBOURS = 2;

/** Whether a step that stands near another in the list has been said. */
const isInPlace = ({ steps }: Checklist, { credits }: State, step: Step): boolean => {
  const at = steps.indexOf(step);
  return steps
    .slice(Math.max(0, at - NEIGHBOURS), at + NEIGHBOURS + 1)
    .some(({ id }) => id !== step.id && id in credits);
};

/**
 * What an utterance means in a rehearsal: the events it leads to, the `heard` event last. Pure; the state is not
 * changed.
 */
export function interpret(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const isCorrecting = state.correcting !== null;
  const hearing = hear(utterance, state.utterances.at(-1), isCorrecting);
  const { tokens, clauses, markers, carried } = hearing;
  const own = tokens.slice(carried);
  const spent = new Set(carried > 0 ? state.used : []);
  const found = checklist.matcher.find(tokens, clauses, markers, carried, spent);
  const joints = jointsAt(checklist, state, found);
  const live = withoutStrayShorts(checklist, hearing, joints, found).filter(
    (c) => !isOtherWay(checklist, hearing, c),
  );
  const judged = meantIn(checklist, hearing, (step) => isInPlace(checklist, state, step));
  const moved = judged.filter(
    (meant) => isMovement(meant) && meant.weight === 'alone' && meant.manner !== null,
  );
  const counts =
    joints.size > 0
      ? countsIn(
          checklist,
          hearing,
          live,
          moved.map(({ span }) => span),
        )
      : [];

  /** How the steps stood before a correction; null where nothing is put right. */
  const slips = isCorrecting || corrects(own) || admits(own) ? outcomesOf(checklist, state) : null;
  const rank = rankSteps(checklist, state, slips);
  const taken = (claim: Claim): Taken => takenOf(checklist, claim);
  const against = live.filter((c) => taken(c) === 'no');
  const asserted = live.filter((c) => taken(c) !== 'no' && !isDenied(c, against));
  const settled = settle(
    asserted.filter(
      (c) => isWhole(c) || !asserted.some((stop) => isWhole(stop) && undoes(checklist, stop, c)),
    ),
    rank,
  );
  const clear = settled.filter(
    (c) => !isEcho(checklist, state, settled, c) && !isExplained(checklist, state, hearing, settled, c),
  );
  const standing = withoutEchoes(
    checklist,
    hearing,
    clear.filter((c) => !clear.some((stop) => undoes(checklist, stop, c))),
  );
  const claimed = new Set(standing.flatMap((c) => c.tokens));
  const notes = settle(against, rank).filter(
    (c) => c.tokens.filter((t) => claimed.has(t)).length * 2 <= c.tokens.length,
  );

  const second = secondHearing(checklist, utterance, rank);
  const added = second ? addedBy(checklist, hearing, second, [...standing, ...against]) : [];

  const events: RehearsalEvent[] = [];
  let now = state;
  const emit = (event: RehearsalEvent | null): void => {
    if (!event) return;
    events.push(event);
    now = fold(now, event);
  };

  const used: number[] = [];
  const meant = meantBeside(checklist, state, judged, standing, counts, rank);
  const inOrder: (Claim | SaidCount | Added | Placed)[] = [
    ...standing,
    ...notes,
    ...counts,
    ...added,
    ...meant,
  ].sort((a, b) => placeOf(a) - placeOf(b));
  for (const said of inOrder) {
    if ('meant' in said) {
      const place = rankSteps(checklist, now, slips)(said.meant.step.id);
      const isOpen = place < (said.isRivalled ? EARLY : SAID_BEFORE);
      if (isOpen || isMovement(said.meant)) takeMeant(checklist, now, hearing, said.meant).forEach(emit);
      continue;
    }
    if ('at' in said && 'claim' in said) {
      takeAdded(checklist, now, second!, said).forEach(emit);
      continue;
    }
    if ('count' in said) {
      const leap = said.ordinal ? LARGEST_LEAP : 1;
      if (said.onlyNext && (said.count === 'again' || !goesOn(now.counts, said.count, leap))) continue;
      if (said.count === 'again' && belongsToStep(checklist, hearing, standing, said.at)) continue;
      if (said.count === 'again' && isCountedAnyway(checklist, hearing, now, standing, counts, said.at))
        continue;
      const evidence = evidenceOf(hearing, { from: said.at, to: said.at + 1 }, 1);
      emit({ type: 'repetition', count: said.count, evidence });
      continue;
    }
    const role = checklist.roles.get(said.target)!;
    const { id } = role.step;
    const evidence = evidenceOf(hearing, said, said.score);
    const manner = mannerOf(said.stance);
    const how = taken(said);
    if (manner === null || how === 'no') {
      if (role.role === 'movement')
        emit({ type: 'movement', step: id, joint: role.joint, form: 'named', evidence });
      if (said.stance === 'doubted') emit({ type: 'doubted', step: id, evidence, why: 'doubt' });
      else if (role.role !== 'stop') emit({ type: 'noted', step: id, evidence, stance: said.stance });
      continue;
    }
    const number = readNumber(role.step, hearing, said, evidence);
    const doubt =
      how === 'asks' && manner !== 'done'
        ? manner
        : doubtOf(checklist, now, hearing, second, said, isCorrecting || corrects(own), number !== null);
    const read = doubt ? null : number;
    const reading = read && second ? compared(read, role.step, second) : read;
    if (role.role === 'value' && !reading) continue;
    const others = [...standing, ...notes].filter((c) => c !== said);
    const announced = manner === 'begun';
    clockMoves(checklist, now, hearing, { span: said, role, announced, doubt, evidence }, others).forEach(
      emit,
    );
    if (doubt) {
      if (role.role !== 'stop') emit({ type: 'doubted', step: id, evidence, why: doubt });
      continue;
    }
    used.push(...said.tokens);
    if (role.role === 'movement')
      emit({
        type: 'movement',
        step: id,
        joint: role.joint,
        form: announced ? 'announced' : role.form,
        evidence,
      });
    if (role.role === 'step') {
      emit({ type: 'credited', step: id, evidence, ...(manner !== 'done' && { manner }) });
      for (const joint of jointsBehind(checklist, id)) emit({ type: 'joint', joint });
    }
    emit(reading);
  }
  const understood = events.some((e) => e.type !== 'doubted' && e.type !== 'noted');
  if (!understood && tokens.length > carried) {
    const whole = evidenceOf(hearing, { from: carried, to: tokens.length }, 0);
    clockDoubts(checklist, now, hearing, whole).forEach(emit);
  }
  if (slips) repairs(checklist, state, slips, events).forEach(emit);
  emit({ type: 'heard', utterance, used: used.filter((t) => t >= carried).map((t) => t - carried) });
  return events;
}

/** What the learned judge alone says, and where it belongs among what was said. */
interface Placed {
  readonly meant: Meant & { readonly manner: NonNullable<Meant['manner']> };
  /** Whether the sentence says another step about as surely, and a likelier one as things stood before it. */
  readonly isRivalled: boolean;
  readonly at: number;
}

const isMovement = ({ step }: Meant): boolean => step.evidence.kind === 'counted';

/** What the learned judge says was said where the rules found nothing of the step: not what only belongs to an explanation. */
function meantBeside(
  checklist: Checklist,
  { credits }: State,
  all: readonly Meant[],
  found: readonly Claim[],
  counts: readonly SaidCount[],
  rank: (target: string) => number,
): Placed[] {
  const order = (id: string): number => checklist.steps.findIndex((step) => step.id === id);
  return all.flatMap((meant) => {
    const { step, span, manner } = meant;
    if (manner === null) return [];
    const isInside = (at: number): boolean => at >= span.from && at < span.to;
    const beside = found.filter((c) => c.from < span.to && c.to > span.from);
    const others = all.filter((m) => m !== meant && m.span.from === span.from);
    const explains = others.some((m) => m.step.plans && m.weight === 'alone' && !(m.step.id in credits));
    if (explains && manner === 'begun') return [];
    if (isMovement(meant)) {
      const isNamed = beside.some((c) => movementOf(checklist, c) === step.id);
      const isAgain = counts.some(({ count, at }) => count === 'again' && isInside(at));
      // Before the numbers of its sentence, which are for it.
      return isNamed || isAgain
        ? []
        : [{ meant: { ...meant, manner }, isRivalled: false, at: span.from - 0.25 }];
    }
    if (beside.some((c) => c.target === step.id && mannerOf(c.stance) !== null && c.score >= CREDIT_FROM))
      return [];
    const twins = twinsOf(checklist.steps, step);
    const isRivalled = others.some(
      (m) => twins.includes(m.step) && m.sure > meant.sure - RIVAL && rank(m.step.id) < rank(step.id),
    );
    const first = beside.find((c) => order(c.target) > order(step.id));
    return [{ meant: { ...meant, manner }, isRivalled, at: first ? first.from - 0.25 : span.to - 0.25 }];
  });
}

/** The events of what only the learned judge says. It ends times and starts none. */
function takeMeant(
  checklist: Checklist,
  now: State,
  hearing: Hearing,
  meant: Placed['meant'],
): RehearsalEvent[] {
  const { step, sure, span } = meant;
  const isDoubted = meant.manner === 'doubted';
  const manner = meant.manner === 'doubted' ? 'done' : meant.manner;
  const taken = takenAs(checklist.rules, step, manner);
  if (taken === 'no') return [];
  const evidence = evidenceOf(hearing, span, sure);
  const unsaid = taken === 'asks' && manner !== 'done' ? manner : null;
  const doubt: Doubt | null = meant.weight === 'possible' || isDoubted ? 'meaning' : unsaid;
  const said = {
    span,
    role: { role: 'step', step } as const,
    announced: manner === 'begun',
    doubt,
    evidence,
  };
  if (step.evidence.kind === 'counted') {
    const form = manner === 'done' ? 'full' : 'announced';
    return doubt ? [] : [{ type: 'movement', step: step.id, joint: step.evidence.joint, form, evidence }];
  }
  const moves = clockMoves(checklist, now, hearing, said, []).filter(
    (e) => !(e.type === 'clock' && (e.move === 'start' || e.move === 'on')),
  );
  const reading = doubt ? null : readNumber(step, hearing, span, evidence);
  if (step.evidence.kind === 'reading' && !reading) return moves;
  if (doubt) return [...moves, { type: 'doubted', step: step.id, evidence, why: doubt }];
  return [
    ...moves,
    { type: 'credited', step: step.id, evidence, ...(manner !== 'done' && { manner }) },
    ...jointsBehind(checklist, step.id).map((joint) => ({ type: 'joint' as const, joint })),
    ...(reading ? [reading] : []),
  ];
}

type Outcomes = ReadonlyMap<string, Outcome>;

/** Which of the events put right, in a correction, what was not simply heard before. */
function repairs(
  checklist: Checklist,
  state: State,
  slips: Outcomes,
  events: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const said = new Map(
    events.flatMap((e) => {
      const isSaid =
        e.type === 'credited' ||
        e.type === 'reading' ||
        (e.type === 'movement' && (e.form === 'full' || e.form === 'short')) ||
        (e.type === 'clock' && e.move === 'start');
      return isSaid ? [[e.step, e] as const] : [];
    }),
  );
  return [...said].flatMap(([step, e]) => {
    const slip = slips.get(step);
    // A number said again is one corrected, whatever it was before. What was only still to come is no slip.
    const isSlip = slip === 'not heard' ? isPassedOver(checklist, state, step) : slip !== 'heard';
    return slip !== undefined && (isSlip || e.type === 'reading')
      ? [{ type: 'repaired' as const, step, slip, evidence: e.evidence }]
      : [];
  });
}

/** Whether a step has been left behind: one that comes later in the list has been said. */
const isPassedOver = (checklist: Checklist, state: State, id: string): boolean =>
  id in state.credits || stepsPast(checklist, state, id) > 0;

/** How the rules take a claim in the manner it is said; what says no step does not count. */
function takenOf({ roles, rules }: Checklist, { target, stance }: Claim): Taken {
  const manner = mannerOf(stance);
  return manner === null ? 'no' : takenAs(rules, roles.get(target)!.step, manner);
}

/**
 * Whether a claim only belongs to an explanation in the same sentence: "today I'm going to wash your feet, then I'll dry them"
 * explains, and neither washes nor dries. Once something has been explained, what is announced is begun.
 */
function isExplained(
  { roles }: Checklist,
  { credits }: State,
  hearing: Hearing,
  all: readonly Claim[],
  claim: Claim,
): boolean {
  if (claim.stance !== 'begun') return false;
  const { from, to } = sentenceAt(hearing, claim.to - 1);
  return all.some((c) => {
    const { id, plans } = roles.get(c.target)!.step;
    const explains = plans && c !== claim && isWhole(c) && !(id in credits);
    return explains && c.from < to && c.to > from && strength(c) >= strength(claim);
  });
}

/** Whether a step other than a movement is said in the same sentence: "the bed is down low again" repeats nothing. */
function belongsToStep(
  checklist: Checklist,
  hearing: Hearing,
  standing: readonly Claim[],
  token: number,
): boolean {
  const { from, to } = sentenceAt(hearing, token);
  return standing.some(
    (c) => c.from < to && c.to > from && checklist.roles.get(c.target)!.role !== 'movement',
  );
}

/**
 * Whether "again" stands beside the movement it repeats, which counts by its name or by the number that follows: "bend the knee
 * again", "foot up again, three".
 */
function isCountedAnyway(
  checklist: Checklist,
  hearing: Hearing,
  { counts: { movements } }: State,
  standing: readonly Claim[],
  counts: readonly SaidCount[],
  token: number,
): boolean {
  const clause = clauseAt(hearing.clauses, token);
  const sentence = sentenceAt(hearing, token);
  const named = standing
    .filter(({ from }) => from >= clause.from && from < clause.to)
    .flatMap((claim) => movementOf(checklist, claim) ?? []);
  const numbered = counts.some(({ at, count }) => count !== 'again' && at > token && at < sentence.to);
  return named.length > 0 && (numbered || named.every((id) => (movements[id]?.number ?? 0) === 0));
}

/** Whether the sentence of a claim goes the other way than its step: "I wipe from back to front". */
function isOtherWay({ roles }: Checklist, hearing: Hearing, { target, to }: Claim): boolean {
  const { role, step } = roles.get(target)!;
  const sentence = sentenceAt(hearing, to - 1);
  return role === 'step' && goesAgainst(hearing.tokens.slice(sentence.from, sentence.to), step.text);
}

/** Whether a saying stops the very clock that another would start with the same words: "I am finished counting". */
function undoes({ roles }: Checklist, stop: Claim, start: Claim): boolean {
  const [a, b] = [roles.get(stop.target)!, roles.get(start.target)!];
  return (
    a.role === 'stop' &&
    b.role === 'start' &&
    a.step === b.step &&
    stop.tokens.some((t) => start.tokens.includes(t))
  );
}

/**
 * Whether a claim is but a shadow of others: faint, in words that a clear one has ("cleaning in between" is not "cleaning
 * under the nails"); in none of its own words and some of another's ("a good rub" is not "the time is up"); or of a step heard
 * before, in words that only sound like it ("the other wrist", "the water, wrist").
 */
function isEcho({ roles }: Checklist, { credits }: State, all: readonly Claim[], claim: Claim): boolean {
  if (claim.score < CREDIT_FROM)
    return all.some((c) => c.score >= CREDIT_FROM && claim.tokens.some((t) => c.tokens.includes(t)));
  if (!claim.plain) return all.some((c) => c.plain && claim.tokens.some((t) => c.tokens.includes(t)));
  const { role, step } = roles.get(claim.target)!;
  return role === 'step' && step.id in credits && claim.plainScore < CREDIT_FROM;
}

/** Whether the words of a faint claim say more plainly that it was not done: "I did not do" is no half of "I do not miss". */
const isDenied = (claim: Claim, against: readonly Claim[]): boolean =>
  claim.score < CREDIT_FROM &&
  against.some(
    (c) =>
      c.target === claim.target && c.score > claim.score && c.tokens.some((t) => claim.tokens.includes(t)),
  );

const placeOf = (said: Claim | SaidCount | Added | Placed): number => ('at' in said ? said.at : said.from);

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

/** Ranks of a step that comes before what it must follow, and of one that was said before. */
const EARLY = 2;
const SAID_BEFORE = 3;
/** How much less sure the judge may be of a step, for it to be a rival of another in the same sentence. */
const RIVAL = 0.05;

/**
 * Lower is likelier: in a correction what has to be put right; a step still open and in order, then one that comes late,
 * early, or a second time.
 */
function rankSteps(checklist: Checklist, state: State, slips: Outcomes | null): (target: string) => number {
  const credited = (id: string): boolean => (state.credits[id]?.length ?? 0) > 0;
  // The whole rehearsal is marked for it: only once, and only where a step is said again.
  let outcomes = slips;
  const isOutOfOrder = (id: string): boolean =>
    (outcomes ??= outcomesOf(checklist, state)).get(id) === 'out of order';
  return (target) => {
    const role = checklist.roles.get(target)!;
    const { id } = role.step;
    const index = checklist.steps.indexOf(role.step) / 1000;
    if (slips && slips.get(id) !== 'heard') return -1 + index;
    // Hands that were clean at the start are washed again at the end.
    if (id in state.carried && isPassedOver(checklist, state, id)) return SAID_BEFORE + index;
    const early = checklist.constraints.some((c) => c.later === id && !credited(c.earlier));
    // One that came too early may be put right now.
    if (credited(id) && role.role === 'step' && (early || !isOutOfOrder(id))) return SAID_BEFORE + index;
    const late =
      checklist.constraints.some((c) => c.earlier === id && credited(c.later)) ||
      (!credited(id) && stepsPast(checklist, state, id) >= LEFT_BEHIND);
    // Said too late is a slip made good; said before what it must follow, it is likelier to be another step.
    if (early) return EARLY + index;
    return late ? 1 - index : index;
  };
}

/**
 * Steps said from which on one before them has been left behind: of two that are said alike ("I wash my hands") the later one is
 * then meant. On the dev narrations fewer take steps said a little late for their twins.
 */
const LEFT_BEHIND = 5;

/** How many steps that come later in the list have been said. */
const stepsPast = ({ steps }: Checklist, { credits }: State, id: string): number =>
  steps.slice(1 + steps.findIndex((step) => step.id === id)).filter((step) => step.id in credits).length;

/** How sure the recogniser is of the least sure word of content of a claim, 0–1; of those of this utterance. */
const leastSure = ({ utterance: { words }, tokens, carried }: Hearing, claim: Claim): number =>
  Math.min(1, ...claim.tokens.map((t) => (t < carried ? 1 : (words[tokens[t]!.at]!.confidence ?? 1))));

/** Why the rules and the learned judge together only doubt a claim; null where it is to be believed. */
function doubtOf(
  checklist: Checklist,
  state: State,
  hearing: Hearing,
  second: SecondHearing | null,
  claim: Claim,
  puttingRight: boolean,
  hasNumber: boolean,
): Doubt | null {
  const { step } = checklist.roles.get(claim.target)!;
  const doubt = ruleDoubtOf(step, claim, hearing, second, isInPlace(checklist, state, step));
  // The judge reads what a step says, not a clock's start, a repetition or a number.
  const { kind } = step.evidence;
  const isRead = claim.target === step.id && (kind === 'said' || (kind === 'reading' && !hasNumber));
  const sures = isRead ? twinsOf(checklist.steps, step).map(({ id }) => surenessAt(hearing, id, claim)) : [];
  const sure = sures.reduce((a, b) => (a === null || (b !== null && b > a) ? b : a), null);
  // "I forgot the curtain" puts it right where a slip is being put right, which the judge cannot know.
  if (doubt === null) return !puttingRight && objects(step, sure) ? 'meaning' : null;
  // Nor does it see that a denial is missing.
  const lacks = step.critical && lacksDenial(hearing, claim, step.text);
  return agrees(step, sure) && !lacks ? null : doubt;
}

/** The step and those that share an example with it: "I wash my hands" says the first as well as the last, their place tells which. */
const twinsOf = (steps: readonly Step[], step: Step): Step[] =>
  steps.filter((other) => other === step || other.cues?.some((cue) => step.cues?.includes(cue)));

function ruleDoubtOf(
  step: Step,
  claim: Claim,
  hearing: Hearing,
  second: SecondHearing | null,
  inPlace: boolean,
): Doubt | null {
  const support = second?.support(claim);
  const other = support === 'agreed' ? second!.claims.find((c) => c.target === claim.target) : undefined;
  if (Math.max(claim.score, other?.score ?? 0) < CREDIT_FROM) return 'faint';
  if (other && (isWhole(claim) || isWhole(other))) return null;
  if (
    hearing.utterance.confidence < CLEAR_FROM ||
    leastSure(hearing, claim) < (step.critical ? CRITICAL_WORD_FROM : WORD_FROM)
  )
    return 'unclear';
  const usual = inPlace ? 0 : PLAIN_FROM;
  const plainFrom = step.critical || (claim.across && !inPlace) ? CREDIT_FROM : usual;
  if (!claim.plain || claim.plainScore < plainFrom) return 'sounds';
  return support === 'against' || (step.critical && support === 'none') ? 'one' : null;
}
