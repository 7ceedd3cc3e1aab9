import type { Word } from '../rehearsal/utterance.ts';
import type { Segment } from './speechDetector.ts';

/** Half-widths in seconds of what is believed about the detector's onset and end, and about times between them. */
export const EDGE_UNCERTAINTY = 0.1;
const INNER_UNCERTAINTY = 0.5;

/** The words of a text at white space, without surrounding punctuation; signs alone stay as they are. */
export function splitWords(text: string): string[] {
  return text
    .split(/\s+/)
    .filter((word) => word !== '')
    .map((word) => word.replace(/^[^\p{L}\p{N}]+|[^\p{L}\p{N}]+$/gu, '') || word);
}

/**
 * Times for the words of a segment: spread over its speech, pauses left out, in proportion to their letters. The first
 * word's start and the last word's end are the detector's and good to {@link EDGE_UNCERTAINTY}; the rest is a guess.
 */
export function spreadWords(text: string, segment: Segment): Word[] {
  const words = splitWords(text);
  const weights = words.map(duration);
  const total = weights.reduce((sum, w) => sum + w, 0);
  const speech = segment.end - segment.start - segment.pauses.reduce((sum, p) => sum + p.end - p.start, 0);
  let passed = 0;
  return words.map((word, i) => {
    const start = passed / total;
    passed += weights[i]!;
    const end = passed / total;
    const edge = (i === 0 || i === words.length - 1) && words.length === 1;
    return {
      text: word,
      start: i === 0 ? segment.start : afterSpeech(segment, start * speech),
      end: i === words.length - 1 ? segment.end : afterSpeech(segment, end * speech),
      uncertainty: edge ? EDGE_UNCERTAINTY : INNER_UNCERTAINTY,
    };
  });
}

/** Letters stand for length well enough; a digit is read out as a word. */
function duration(word: string): number {
  return 1 + [...word].reduce((sum, c) => sum + (/\p{N}/u.test(c) ? 4 : 1), 0);
}

/** When so many seconds of the segment's speech have passed. */
function afterSpeech(segment: Segment, seconds: number): number {
  let at = segment.start + seconds;
  for (const pause of segment.pauses) if (pause.start <= at) at += pause.end - pause.start;
  return at;
}
