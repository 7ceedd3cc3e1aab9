import type { Word } from '../language/utterance.ts';
import type { Segment } from '../sound/speechDetector.ts';

/**
 * Half-widths in seconds of what is believed about times. The detector's onset and end lie within 0.15 s in 95 of 100
 * cases (see its constants); a boundary found by {@link momentSaid} within 0.25 s; one that is only spread within 0.29 s
 * on evenly speaking voices, which people are not.
 */
export const EDGE_UNCERTAINTY = 0.15;
export const FOUND_UNCERTAINTY = 0.25;
export const SPREAD_UNCERTAINTY = 0.5;

/** What a pause after punctuation is worth, in seconds of distance, when a boundary is chosen for it. */
const PUNCTUATION_BONUS = 0.4;

/** A word without the punctuation around it; signs alone stay as they are. */
export function bare(piece: string): string {
  return piece.replace(/^[^\p{L}\p{N}]+|[^\p{L}\p{N}]+$/gu, '') || piece;
}

/** Where one word ends and the next begins; the two differ where a pause lies between. */
export interface Boundary {
  readonly end: number;
  readonly start: number;
}

/**
 * Boundaries between the pieces of a text, one fewer than there are pieces: spread over the segment's speech in
 * proportion to their letters, with each of the segment's pauses at the boundary that lies nearest.
 */
export function spreadBoundaries(pieces: readonly string[], segment: Segment): Boundary[] {
  const lengths = pieces.map(lettersSpoken);
  const anchors = [
    { piece: 0, end: segment.start, start: segment.start },
    ...placePauses(pieces, lengths, segment),
    { piece: pieces.length, end: segment.end, start: segment.end },
  ];
  const boundaries: Boundary[] = [];
  anchors.slice(1).forEach((right, a) => {
    const left = anchors[a]!; // the one before
    const inside = lengths.slice(left.piece, right.piece);
    const perLetter = (right.end - left.start) / inside.reduce((sum, n) => sum + n, 0);
    let at = left.start;
    inside.slice(0, -1).forEach((length) => {
      at += length * perLetter;
      boundaries.push({ end: at, start: at });
    });
    if (a + 2 < anchors.length) boundaries.push({ end: right.end, start: right.start });
  });
  return boundaries;
}

/** The words of a segment's text with their times. */
export function timeWords(pieces: readonly string[], segment: Segment): Word[] {
  const boundaries = spreadBoundaries(pieces, segment);
  return pieces.map((piece, i) => ({
    text: bare(piece),
    start: boundaries[i - 1]?.start ?? segment.start,
    end: boundaries[i]?.end ?? segment.end,
    uncertainty: pieces.length === 1 ? EDGE_UNCERTAINTY : SPREAD_UNCERTAINTY,
  }));
}

/** Letters stand for length well enough; a digit is read out as a word. The space counts for the shortest words. */
function lettersSpoken(piece: string): number {
  return 1.5 + [...bare(piece)].reduce((sum, c) => sum + (/\p{N}/u.test(c) ? 4 : 1), 0);
}

/** Each pause with the piece that begins after it, rising; pauses that find no boundary of their own are left out. */
function placePauses(
  pieces: readonly string[],
  lengths: readonly number[],
  segment: Segment,
): (Boundary & { readonly piece: number })[] {
  const silence = segment.pauses.reduce((sum, p) => sum + p.end - p.start, 0);
  const speech = segment.end - segment.start - silence;
  const total = lengths.reduce((sum, n) => sum + n, 0);
  const placed: (Boundary & { readonly piece: number })[] = [];
  let passedSilence = 0;
  for (const pause of segment.pauses) {
    const spokenBefore = pause.start - segment.start - passedSilence;
    passedSilence += pause.end - pause.start;
    let best: { piece: number; distance: number } | null = null;
    let letters = 0;
    for (let piece = 1; piece < pieces.length; piece++) {
      letters += lengths[piece - 1] ?? 0;
      if (piece <= (placed.at(-1)?.piece ?? 0)) continue;
      const distance =
        Math.abs((letters / total) * speech - spokenBefore) -
        (/[.,;:?!]$/.test(pieces[piece - 1] ?? '') ? PUNCTUATION_BONUS : 0);
      if (best === null || distance < best.distance) best = { piece, distance };
    }
    if (best && pause.end < segment.end)
      placed.push({ piece: best.piece, end: pause.start, start: pause.end });
  }
  return placed;
}
