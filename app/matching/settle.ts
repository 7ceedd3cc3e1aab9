import { overlap, strength, type Claim } from './claim.ts';

/** Share of a claim's content words that no fuller claim has used. Lower credits one saying to two like steps. */
const FREE_SHARE = 0.5;
/** Claims this near to the strongest in strength, and this much in the same words, fit equally well. */
const EQUAL_STRENGTH = 0.93;
const EQUAL_WORDS = 0.75;

/**
 * Settles which claims stand when several want the same words. The fullest claim goes first, those spread over two sentences
 * last ("finished. I go back to scrubbing" is no end of the scrub); a later one stands only if most of its own words are
 * still free, or all where it is spread. Where two fit the same words equally well ("I wash my hands", at the
 * beginning and at the end), `rank` decides: lower goes first.
 */
export function settle(claims: readonly Claim[], rank: (target: string) => number): Claim[] {
  const fullestFirst = (all: readonly Claim[]): Claim[] =>
    [...all].sort((a, b) => strength(b) - strength(a) || rank(a.target) - rank(b.target));
  const open = [
    ...fullestFirst(claims.filter(({ across }) => !across)),
    ...fullestFirst(claims.filter(({ across }) => across)),
  ];
  const taken = new Set<number>();
  const standing: Claim[] = [];
  for (let head = open[0]; head !== undefined; head = open[0]) {
    const claim = likeliest(head, open, rank);
    open.splice(open.indexOf(claim), 1);
    if (!isFree(claim, taken) || isInside(claim, standing)) continue;
    standing.push(claim);
    claim.tokens.forEach((t) => taken.add(t));
  }
  return standing;
}

/** Of the claims that fit the words of the first about as well as it does, the one that ranks first. */
function likeliest(head: Claim, open: readonly Claim[], rank: (target: string) => number): Claim {
  const isEqual = (c: Claim): boolean =>
    strength(c) >= EQUAL_STRENGTH * strength(head) && overlap(c, head) >= EQUAL_WORDS;
  return open.filter(isEqual).reduce((a, b) => (rank(b.target) < rank(a.target) ? b : a), head);
}

function isFree({ tokens, across }: Claim, taken: ReadonlySet<number>): boolean {
  const free = tokens.filter((t) => !taken.has(t)).length;
  return free >= (across ? 1 : FREE_SHARE) * tokens.length;
}

/** Whether a claim of one word stands inside another: "starting to count now" has no room for "count". */
const isInside = ({ tokens, from, to }: Claim, standing: readonly Claim[]): boolean =>
  tokens.length === 1 && standing.some((s) => s.from < from && to < s.to);
