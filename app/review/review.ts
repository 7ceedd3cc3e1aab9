import { ReviewEventSchema, type RehearsalEvent, type ReviewEvent } from '../marking/events.ts';

/** A person's verdict on a step. */
export type Reviewed = ReviewEvent & { readonly type: 'reviewed' };
export type Verdict = Reviewed['verdict'];
export type Commented = ReviewEvent & { readonly type: 'commented' };
export type SignedOff = ReviewEvent & { readonly type: 'signed off' };

/** What a person has said of one skill of an attempt, beside the machine's marks: a fold of the journal's events. */
export interface Review {
  /** By step; of several verdicts the last. */
  readonly verdicts: ReadonlyMap<string, Reviewed>;
  /** The true values of the readings by step, as a reviewer measured them. */
  readonly measured: ReadonlyMap<string, number>;
  /** The same as who rehearsed gave them, or somebody beside them. A reviewer's own goes before them. */
  readonly measuredByRehearser: ReadonlyMap<string, number>;
  /** Of the whole attempt, in the order of the recording. */
  readonly comments: readonly Commented[];
  /** Null before it, and again after any change: what was signed is what stands there. */
  readonly signedOff: SignedOff | null;
}

export const NOT_REVIEWED: Review = {
  verdicts: new Map(),
  measured: new Map(),
  measuredByRehearser: new Map(),
  comments: [],
  signedOff: null,
};

/**
 * The review after one more event of the journal. Total and pure: the machine's events change nothing, and unknown steps are
 * kept like any other, for a later version of the skill may have dropped them.
 *
 * @param skill index of the skill in the test, 0 in a rehearsal of one
 */
export function foldReview(review: Review, event: RehearsalEvent, skill = 0): Review {
  // Comments name no skill: they belong to the whole attempt.
  const isElsewhere = 'madeAt' in event && 'skill' in event && event.skill !== skill;
  if (isElsewhere) return review;
  switch (event.type) {
    case 'reviewed': {
      const verdicts = including(review.verdicts, event.step, event);
      return { ...review, verdicts, signedOff: null };
    }
    case 'measured': {
      if (event.byRehearser) return withRehearsers(review, event.step, event.value);
      const measured = including(review.measured, event.step, event.value);
      return { ...review, measured, signedOff: null };
    }
    case 'commented': {
      if (review.comments.some((comment) => isSame(comment, event))) return review;
      const comments = [...review.comments, event].sort((a, b) => a.at - b.at);
      return { ...review, comments, signedOff: null };
    }
    case 'signed off':
      return { ...review, signedOff: event };
    default:
      return review;
  }
}

/** The review that a journal holds of one of its skills. */
export const reviewOf = (events: readonly RehearsalEvent[], skill = 0): Review =>
  events.reduce((review, event) => foldReview(review, event, skill), NOT_REVIEWED);

/** What who rehearsed measured: it takes back no signature, and changes nothing that was signed. */
const withRehearsers = (review: Review, step: string, value: number): Review =>
  review.signedOff
    ? review
    : { ...review, measuredByRehearser: including(review.measuredByRehearser, step, value) };

/** Whether an event is what who rehearsed may add and see: a measured value of their own. */
export const isRehearsers = (event: RehearsalEvent): boolean =>
  event.type === 'measured' && event.byRehearser === true;

/** A journal without what reviewers said: what who rehearsed may see of it. */
export const withoutReviewers = (events: readonly RehearsalEvent[]): RehearsalEvent[] =>
  events.filter((event) => isRehearsers(event) || !ReviewEventSchema.safeParse(event).success);

const including = <V>(map: ReadonlyMap<string, V>, key: string, value: V): ReadonlyMap<string, V> =>
  new Map(map).set(key, value);

/** Sent twice, as after a lost answer, a comment stands once. */
const isSame = (a: Commented, b: Commented): boolean =>
  a.at === b.at && a.text === b.text && a.by === b.by && a.madeAt === b.madeAt;
