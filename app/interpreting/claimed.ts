import type { Evidence } from '../marking/assessment.ts';
import { mannerOf, type Manner, type Stance } from '../language/stance.ts';
import type { Claim } from '../matching/claim.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import type { State } from '../marking/state.ts';
import { roleOf, type Checklist, type Role } from '../skills/checklist.ts';
import { clockMoves } from './clockMoves.ts';
import { doubtOf } from './doubts.ts';
import { evidenceOf } from './hearing.ts';
import { isReadBack, readNumber } from './reading/readings.ts';
import { jointsBehind } from './repetition.ts';
import { compared, type SecondHearing } from './secondHearing.ts';
import type { Situation } from './situation.ts';
import { takenOf } from './standing.ts';

/** What a saying leads to, and the tokens that marks then rest on. */
export interface Effect {
  readonly events: readonly RehearsalEvent[];
  readonly used: readonly number[];
}

/**
 * What a claim leads to.
 *
 * @param others what else was claimed in the utterance
 */
export function takeClaim(
  situation: Situation,
  now: State,
  second: SecondHearing | null,
  claim: Claim,
  others: readonly Claim[],
): Effect {
  const { checklist, hearing } = situation;
  const role = roleOf(checklist, claim.target);
  const evidence = evidenceOf(hearing, claim, claim.score);
  const manner = mannerOf(claim.stance);
  const taken = takenOf(checklist, claim);
  if (manner === null || taken === 'no')
    return { events: notCounted(role, claim.stance, evidence), used: [] };
  const number = readNumber(role.step, hearing, claim, evidence, {
    before: now.readings[role.step.id],
    corrects: situation.correcting || isReadBack(now.readBack, hearing.utterance, role.step.id),
    asksOfAny: role.role === 'step',
  });
  const isAsked = taken === 'asks' && manner !== 'done';
  const doubt = isAsked
    ? manner
    : doubtOf(situation, now, second, claim, number !== null && number.why !== 'unusual');
  if (role.role === 'value' && (doubt || !number)) return { events: [], used: [] };
  const saying = { span: claim, role, announced: manner === 'begun', doubt, evidence };
  const moves = clockMoves(checklist, now, hearing, saying, others);
  if (doubt) {
    const doubted = { type: 'doubted', step: role.step.id, evidence, why: doubt } as const;
    return { events: role.role === 'stop' ? moves : [...moves, doubted], used: [] };
  }
  const reading = number && second ? compared(number, role.step, second) : number;
  const events = [...moves, ...counted(checklist, role, manner, evidence), ...(reading ? [reading] : [])];
  return { events, used: claim.tokens };
}

/** Words that speak of a step and do not count. A movement named so is the one that the next numbers are for. */
function notCounted(role: Role, stance: Stance, evidence: Evidence): RehearsalEvent[] {
  const step = role.step.id;
  const named: RehearsalEvent[] =
    role.role === 'movement' ? [{ type: 'movement', step, joint: role.joint, form: 'named', evidence }] : [];
  if (stance === 'doubted') return [...named, { type: 'doubted', step, evidence, why: 'doubt' }];
  return role.role === 'stop' ? named : [...named, { type: 'noted', step, evidence, stance }];
}

/** What words that count do besides moving clocks. */
function counted(checklist: Checklist, role: Role, manner: Manner, evidence: Evidence): RehearsalEvent[] {
  const { id } = role.step;
  switch (role.role) {
    case 'movement': {
      const form = manner === 'begun' ? 'announced' : role.form;
      return [{ type: 'movement', step: id, joint: role.joint, form, evidence }];
    }
    case 'step':
      return creditOf(checklist, id, manner, evidence);
    default:
      return [];
  }
}

/** The credit of a step, and the joints that it turns to. */
export const creditOf = (
  checklist: Checklist,
  step: string,
  manner: Manner,
  evidence: Evidence,
): RehearsalEvent[] => [
  { type: 'credited', step, evidence, ...(manner !== 'done' && { manner }) },
  ...jointsBehind(checklist, step).map((joint) => ({ type: 'joint' as const, joint })),
];
