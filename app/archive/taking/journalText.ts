import { ReviewEventSchema } from '../../marking/events.ts';

/** A journal's text in two: the header and the machine's events, and what persons said afterwards. Lines of JSON, each ended. */
export interface JournalText {
  readonly events: string;
  readonly review: string;
}

/** Parts a journal. A last line that breaks off is left out, and so is what a database cannot hold in a text. */
export function partJournal(bytes: Uint8Array): JournalText {
  const text = new TextDecoder().decode(bytes).replaceAll('\0', '\ufffd');
  const [events, review]: [string[], string[]] = [[], []];
  for (const line of linesOf(text)) (isReview(line) ? review : events).push(line);
  return { events: events.join(''), review: review.join('') };
}

/** The whole of it again, as a journal is read: what persons say changes no mark of the machine's, so it may stand last. */
export const wholeOf = ({ events, review }: JournalText): string => events + review;

/**
 * What follows from two copies of one journal: all events of the one that went on, and what persons said in either. Null where the
 * machine's events part ways, so that they are not of one rehearsal.
 */
export function joined(have: JournalText, came: JournalText): JournalText | null {
  const events = longerOf(have.events, came.events);
  if (events === null) return null;
  return { events, review: longerOf(have.review, came.review) ?? bothOf(have.review, came.review) };
}

/** The one that the other begins; null where neither begins the other. */
function longerOf(one: string, other: string): string | null {
  if (other.startsWith(one)) return other;
  return one.startsWith(other) ? one : null;
}

/** What persons said at two places, in the order of when they said so; what both have comes once. */
function bothOf(one: string, other: string): string {
  const lines = [...new Set([...linesOf(one), ...linesOf(other)])];
  return lines.sort((a, b) => Date.parse(madeAtOf(a)) - Date.parse(madeAtOf(b))).join('');
}

const linesOf = (text: string): string[] => text.match(/[^\n]*\n/g) ?? [];

function isReview(line: string): boolean {
  // Most lines are the machine's, and long ones need not be read for that.
  return line.includes('"madeAt"') && ReviewEventSchema.safeParse(valueOf(line)).success;
}

const madeAtOf = (line: string): string => ReviewEventSchema.parse(valueOf(line)).madeAt;

function valueOf(line: string): unknown {
  try {
    return JSON.parse(line);
  } catch {
    return undefined;
  }
}
