import type { Utterance } from '../language/utterance.ts';
import type { Claim } from '../matching/claim.ts';
import type { SaidCount } from '../marking/counts.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { fold, type State } from '../marking/state.ts';
import type { Checklist } from '../skills/checklist.ts';
import { answersIn } from './reading/answers.ts';
import { takeClaim, type Effect } from './claimed.ts';
import { clockDoubts } from './clockMoves.ts';
import { dueReading } from './reading/dueReading.ts';
import { evidenceOf } from './hearing.ts';
import { meantIn } from './meaning.ts';
import { isMovement, meantBeside, takeMeant, type Placed } from './meant.ts';
import { repairs } from './repairs.ts';
import { countsIn, takeCount } from './repetition.ts';
import { addedBy, secondHearing, takeAdded, type Added, type SecondHearing } from './secondHearing.ts';
import { isInPlace, rankSteps, situationOf, type Situation } from './situation.ts';
import { claimsIn } from './standing.ts';

/**
 * What an utterance means in a rehearsal: the events it leads to, the `heard` event last. Pure; the state is not
 * changed.
 */
export function interpret(checklist: Checklist, state: State, utterance: Utterance): RehearsalEvent[] {
  const situation = situationOf(checklist, state, utterance);
  const { events: taken, used } = takeAll(situation, findAll(situation));
  const answered = [...taken, ...answersIn(situation, taken)];
  const events = [...answered, ...dueReading(situation, answered)];
  const told = [...events, ...unclear(situation, events)];
  const { carried } = situation.hearing;
  const own = used.filter((t) => t >= carried).map((t) => t - carried);
  return [...told, ...repairs(situation, told), { type: 'heard', utterance, used: own }];
}

/** Something that an utterance says; `at`: the token where, as a fraction between two where it is of another source. */
type Said = { readonly at: number } & (
  | { readonly kind: 'claim'; readonly claim: Claim }
  | { readonly kind: 'count'; readonly count: SaidCount }
  | { readonly kind: 'added'; readonly added: Added }
  | { readonly kind: 'meant'; readonly placed: Placed }
);

/** All that an utterance says. */
interface Findings {
  readonly standing: readonly Claim[];
  readonly notes: readonly Claim[];
  readonly counts: readonly SaidCount[];
  readonly second: SecondHearing | null;
  readonly inOrder: readonly Said[];
}

/** Finds all that the utterance says, by the rules, by the second engine and by the learned judge. */
function findAll(situation: Situation): Findings {
  const { checklist, before, hearing, slips } = situation;
  const rank = rankSteps(checklist, before, slips);
  const { live, standing, against, notes, joints } = claimsIn(situation, rank);
  const judged = meantIn(checklist, hearing, (step) => isInPlace(checklist, before, step));
  const moved = judged.filter((m) => isMovement(m) && m.weight === 'alone' && m.manner !== null);
  const movedIn = moved.map(({ span }) => span);
  const counts = joints.size > 0 ? countsIn(checklist, hearing, live, movedIn) : [];
  const second = secondHearing(checklist, hearing.utterance, rank);
  const added = second ? addedBy(checklist, hearing, second, [...standing, ...against]) : [];
  const meant = meantBeside(situation, judged, standing, counts, rank);
  const all: Said[] = [
    ...[...standing, ...notes].map((claim) => ({ kind: 'claim' as const, at: claim.from, claim })),
    ...counts.map((count) => ({ kind: 'count' as const, at: count.at, count })),
    ...added.map((each) => ({ kind: 'added' as const, at: each.at, added: each })),
    ...meant.map((placed) => ({ kind: 'meant' as const, at: placed.at, placed })),
  ];
  return { standing, notes, counts, second, inOrder: all.sort((a, b) => a.at - b.at) };
}

/** Takes one saying after the other, each in the state that those before it have left. */
function takeAll(situation: Situation, findings: Findings): Effect {
  const events: RehearsalEvent[] = [];
  const used: number[] = [];
  let now = situation.before;
  for (const said of findings.inOrder) {
    const effect = take(situation, now, findings, said);
    events.push(...effect.events);
    used.push(...effect.used);
    now = effect.events.reduce(fold, now);
  }
  return { events, used };
}

function take(
  situation: Situation,
  now: State,
  { standing, notes, counts, second }: Findings,
  said: Said,
): Effect {
  switch (said.kind) {
    case 'claim': {
      const others = [...standing, ...notes].filter((claim) => claim !== said.claim);
      return takeClaim(situation, now, second, said.claim, others);
    }
    case 'count':
      return { events: takeCount(situation, now, standing, counts, said.count), used: [] };
    case 'added':
      return { events: takeAdded(situation.checklist, now, said.added), used: [] };
    case 'meant':
      return { events: takeMeant(situation, now, said.placed), used: [] };
  }
}

/** The doubts about running clocks that talk leaves which nothing understood: it may have stopped them. */
function unclear(
  { checklist, before, hearing }: Situation,
  events: readonly RehearsalEvent[],
): RehearsalEvent[] {
  const { tokens, carried } = hearing;
  const isUnderstood = events.some(({ type }) => type !== 'doubted' && type !== 'noted');
  if (isUnderstood || tokens.length === carried) return [];
  const whole = evidenceOf(hearing, { from: carried, to: tokens.length }, 0);
  return clockDoubts(checklist, events.reduce(fold, before), hearing, whole);
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
