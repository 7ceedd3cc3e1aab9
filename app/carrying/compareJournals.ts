import { ReviewEventSchema, type ReviewEvent } from '../marking/events.ts';
import { jsonOf, NEWLINE } from '../records/journal.ts';

/**
 * What a journal from elsewhere is to ours:
 *
 * - `same`: it has nothing that ours lacks.
 * - `longer`: ours is its beginning.
 * - `reviewed`: the rehearsal is the same, and both sides were reviewed since: `journal` has the reviews of both.
 * - `other`: they went different ways, or are of different rehearsals.
 */
export type Comparison =
  | { readonly is: 'same' }
  | { readonly is: 'other' }
  | { readonly is: 'longer'; readonly journal: Buffer; readonly isOnlyReviewed: boolean }
  | { readonly is: 'reviewed'; readonly journal: Buffer };

/** Compares two journals by their whole lines; what breaks off at the end of one is left out. */
export function compareJournals(ours: Uint8Array, theirs: Uint8Array): Comparison {
  const [a, b] = [wholeLines(ours), wholeLines(theirs)];
  if (a.length === 0 || a[0] !== b[0]) return { is: 'other' };
  const length = a.findIndex((line, i) => line !== b[i]);
  const common = length < 0 ? a.length : length;
  const [onlyA, onlyB] = [a.slice(common), b.slice(common)];
  if (onlyB.length === 0) return { is: 'same' };
  const isOnlyReviewed = onlyB.every(isReview);
  // Said again, a review is the same one.
  const known = new Set(a);
  if (isOnlyReviewed && onlyB.every((line) => known.has(line))) return { is: 'same' };
  if (onlyA.length === 0) return { is: 'longer', journal: joined(b), isOnlyReviewed };
  if (!isOnlyReviewed || !onlyA.every(isReview)) return { is: 'other' };
  const before = a.slice(0, common);
  const after = [...onlyA, ...onlyB].filter((line) => !before.includes(line));
  return { is: 'reviewed', journal: joined([...before, ...together(after)]) };
}

/**
 * The reviews of two sides, the same whichever side asks: by when they were made, so that the last verdict counts. Sign-offs go before what
 * reviewers said, and so are void: nobody has signed what both say together.
 */
function together(lines: readonly string[]): string[] {
  const said = [...new Set(lines)].map((line) => ({ line, review: reviewIn(line) }));
  const rankOf = ({ review }: (typeof said)[number]): number => {
    // What who rehearsed measured neither makes a signature void nor counts after one.
    if (review && 'byRehearser' in review) return 0;
    return review?.type === 'signed off' ? 1 : 2;
  };
  const isOpen = said.some((each) => rankOf(each) === 2);
  return said
    .map((each) => ({ ...each, key: `${isOpen ? rankOf(each) : 0} ${timeOf(each.review)} ${each.line}` }))
    .sort((one, two) => (one.key < two.key ? -1 : 1))
    .map(({ line }) => line);
}

const timeOf = (review: ReviewEvent | undefined): string => new Date(review?.madeAt ?? 0).toISOString();
const reviewIn = (line: string): ReviewEvent | undefined =>
  ReviewEventSchema.safeParse(jsonOf(Buffer.from(line, 'latin1'))).data;
const isReview = (line: string): boolean => reviewIn(line) !== undefined;
const joined = (lines: readonly string[]): Buffer => Buffer.from(lines.join(''), 'latin1');

/** The lines of a journal with what ends them, as the bytes that they are. */
function wholeLines(bytes: Uint8Array): string[] {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.lastIndexOf(NEWLINE) + 1).toString('latin1');
  return text.match(/[^\n]*\n/g) ?? [];
}
