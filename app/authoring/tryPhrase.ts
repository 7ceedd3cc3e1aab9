import { z } from 'zod';
import { roleOf, type Checklist } from '../skills/checklist.ts';
import { COMMANDS, findCommand } from '../language/commands.ts';
import type { Doubt, RehearsalEvent } from '../marking/events.ts';
import { hear } from '../interpreting/hearing.ts';
import { CREDIT_FROM, strength, type Claim } from '../matching/claim.ts';
import { surest } from '../interpreting/meaning.ts';
import { interpret } from '../interpreting/interpret.ts';
import { BEFORE, type State } from '../marking/state.ts';
import { heardClearly, type Utterance } from '../language/utterance.ts';
import { piecesOf, tokenAt, type Token } from '../language/words.ts';

/**
 * Share of a cue from which a step that got nothing is told as a near miss: below a third every step is near to every
 * sentence about the bed.
 */
const NEAR_FROM = 0.4;
const MOST_NEAR = 5;
/** Sureness from which a step is worth telling: below, the judge says of all steps that they are not meant. */
const TOLD_FROM = 0.05;

const DOES = ['credited', 'doubted', 'noted', 'clock', 'movement', 'reading'] as const;

/** What a sentence does for one step. */
const EffectSchema = z
  .object({
    step: z.string(),
    /** What is marked of it. */
    text: z.string(),
    does: z.enum(DOES),
    /** More of it in words: the stance, the clock's move, the number, why it is doubted. */
    how: z.string(),
    /** The words it rests on. */
    words: z.string(),
    /** 0–1: share of the cue that was found. */
    score: z.number(),
    /** The cue that fitted best, as it is written; null where the effect rests on another step's words. */
    cue: z.string().nullable(),
    /** The cue's words that were lacking. */
    lacking: z.array(z.string()).readonly(),
  })
  .readonly();
export type Effect = z.infer<typeof EffectSchema>;

/** A step that the sentence does nothing for, though it comes near one of its cues. */
const NearMissSchema = z
  .object({
    step: z.string(),
    text: z.string(),
    cue: z.string(),
    score: z.number(),
    /** The cue's words that were lacking; empty where all were said, too far apart or for another step. */
    lacking: z.array(z.string()).readonly(),
  })
  .readonly();
export type NearMiss = z.infer<typeof NearMissSchema>;

/** A step that the learned judge takes the sentence to say. */
const MeantSchema = z
  .object({
    step: z.string(),
    text: z.string(),
    /** 0–1 */
    sure: z.number(),
  })
  .readonly();

export const TriedSchema = z
  .object({
    effects: z.array(EffectSchema).readonly(),
    near: z.array(NearMissSchema).readonly(),
    /** What the learned judge makes of it, the surest first; null where none was asked. */
    meant: z.array(MeantSchema).readonly().nullable(),
    /** The command to the coach that the sentence is, where it does nothing else. */
    command: z.enum(COMMANDS).nullable(),
  })
  .readonly();
export type Tried = z.infer<typeof TriedSchema>;

const DOUBTS: Readonly<Record<Doubt, string>> = {
  faint: 'only part of a cue was said',
  sounds: 'its words only sound like the cue’s',
  unclear: 'the sound was unclear',
  doubt: 'said as a doubt',
  one: 'only one of two recognisers heard it',
  meaning: 'its words and what it seems to mean do not agree',
  begun: 'announced, which these rules ask about',
  told: 'told as what one would do, which these rules ask about',
};

/**
 * What a sentence would do in a rehearsal, step by step, as a perfect recogniser hears it. Pure; marks nothing.
 *
 * @param state the rehearsal it is said in, by default one that has only begun
 * @param judged what the learned judge says of the phrase; the rules alone decide without
 */
export function tryPhrase(
  checklist: Checklist,
  phrase: string,
  state: State = BEFORE,
  judged?: Utterance['judged'],
): Tried {
  const pieces = piecesOf(phrase);
  if (pieces.length === 0) return { effects: [], near: [], meant: null, command: null };
  const start = (state.utterances.at(-1)?.end ?? 0) + 2;
  const said = { ...heardClearly(state.utterances.length, phrase, start), ...(judged && { judged }) };
  const { tokens, clauses, markers } = hear(said, undefined);
  const claims = checklist.matcher.find(tokens, clauses, markers);
  const nearest = checklist.matcher.nearest(tokens);
  const stepOf = (target: string) => roleOf(checklist, target).step;
  const texts = new Map(checklist.steps.map(({ id, text }) => [id, text]));

  const effects = interpret(checklist, state, said).flatMap((event): Effect[] => {
    const does = effectOf(event);
    if (!does || !('step' in event) || !('evidence' in event)) return [];
    const { step, evidence } = event;
    const text = texts.get(step) ?? step;
    const words = evidence?.text ?? '';
    const claim = best(
      claims.filter(
        (c) => stepOf(c.target).id === step && fits(c, event) && wordsOf(c, tokens, pieces) === words,
      ),
    );
    const lacking = nearest.find((n) => n.target === claim?.target && n.cue === claim.cue)?.lacking ?? [];
    return [{ step, text, ...does, words, score: evidence?.score ?? 0, cue: claim?.cue ?? null, lacking }];
  });

  const touched = new Set(effects.map(({ step }) => step));
  const near = new Map<string, NearMiss>();
  for (const { target, cue, score, lacking } of [...nearest].sort((a, b) => b.score - a.score)) {
    const { id, text } = stepOf(target);
    if (score >= NEAR_FROM && !touched.has(id) && !near.has(id))
      near.set(id, { step: id, text, cue, score, lacking });
  }
  const marks = effects.some(({ does }) => does !== 'noted' && does !== 'doubted');
  return {
    effects,
    near: [...near.values()].slice(0, MOST_NEAR),
    meant: judged ? meantBy(checklist, judged) : null,
    command: marks ? null : (findCommand(phrase)?.command ?? null),
  };
}

/** The steps that a sentence says by the judge, the surest first. */
function meantBy({ steps }: Checklist, judged: NonNullable<Utterance['judged']>): Tried['meant'] {
  return steps
    .map(({ id, text }) => ({ step: id, text, sure: surest(judged, id) }))
    .filter(({ sure }) => sure >= TOLD_FROM)
    .sort((a, b) => b.sure - a.sure);
}

/** What an event does for its step, or null where it does nothing that a cue's author asks about. */
function effectOf(event: RehearsalEvent): Pick<Effect, 'does' | 'how'> | null {
  switch (event.type) {
    case 'credited':
      return { does: 'credited', how: event.manner ?? '' };
    case 'doubted':
      return { does: 'doubted', how: DOUBTS[event.why] };
    case 'noted':
      return { does: 'noted', how: event.stance };
    case 'clock':
      return { does: 'clock', how: event.move };
    case 'movement':
      return { does: 'movement', how: event.form };
    case 'reading':
      return { does: 'reading', how: String(event.value) };
    default:
      return null;
  }
}

/** Whether a claim can be what an event rests on: a saying that is noted was not asserted, and the other way round. */
const fits = (claim: Claim, event: RehearsalEvent): boolean =>
  event.type === 'noted'
    ? claim.stance === event.stance
    : event.type === 'doubted' || event.type === 'movement' || claim.stance === 'asserted';

/** The words of the utterance that a claim spans. */
const wordsOf = ({ from, to }: Claim, tokens: readonly Token[], pieces: readonly string[]): string =>
  pieces.slice(tokenAt(tokens, from).at, tokenAt(tokens, to - 1).at + 1).join(' ');

/** Whether one claim says more than another: whole cues before parts. */
function saysMore(a: Claim, b: Claim): boolean {
  const isWhole = ({ score }: Claim): boolean => score >= CREDIT_FROM;
  return isWhole(a) === isWhole(b) ? strength(a) > strength(b) : isWhole(a);
}

/** The claim that says most. */
const best = (claims: readonly Claim[]): Claim | undefined =>
  claims.reduce<Claim | undefined>((a, b) => (a && !saysMore(b, a) ? a : b), undefined);
