import { clauseAt, sentenceAround, type Clause } from './clauses.ts';
import { AHEAD, AHEAD_RULES, RULES, type Rule } from './markerRules.ts';
import { mannerOf, type Stance } from './stance.ts';
import { tokenAt, type Token } from './words.ts';

/** A few words that take the assertion away from the words in their reach. */
export interface Marker {
  readonly stance: Exclude<Stance, 'asserted'>;
  /** The tokens that do it. A cue that requires them ("I do not touch…") takes the marker's force away. */
  readonly tokens: readonly number[];
  /** Token indexes in reach: first, and one past the last. */
  readonly from: number;
  readonly to: number;
  /**
   * "I forgot the curtain, I'm closing it now": a claim that has words from this token on has put the slip right.
   * Absent where nothing does.
   */
  readonly mendedFrom?: number;
  /**
   * "I look at your gums, no sores": what was found, which denies nothing that begins before this token. Absent where
   * nothing was found.
   */
  readonly findingFrom?: number;
}

/** Tokens: first, and one past the last. */
type Stretch = Pick<Marker, 'from' | 'to'>;

/** A clause's words as the rules want them: joined by single spaces, with a space at both ends. */
function textOf(tokens: readonly Token[], { from, to }: Stretch): string {
  const words = tokens.slice(from, to).map((t) => t.word);
  return ` ${words.join(' ')} `;
}

/** Whether the clause is a request to the resident ("may I see your wristband?"), which is a thing said, not a doubt. */
const asksResident = (text: string): boolean =>
  / (?:may|can|could|shall|might|would|will) (?:i|we) /.test(text) && / (?:you|your) /.test(text);

const FORGETS = /^(forgot|forget|forgotten|skip|skipped|miss|missed|omitted|left out)$/;

/** "No sores", "and nothing loose", "there isn't any redness": a clause that tells what was looked for and not found. */
const FINDING =
  /^ (?:(?:and|so|but|there is|there was|there are|i see|it is|with) )*(?:no|nothing|not any|do not see any|can not see any) /;

/** "I didn't…", "I never…": of what is past. */
const NOT_DONE = / (?:i|we) (?:did not|have not|had not|never) /;

/**
 * The clause after a forgotten thing that does it after all: "I'm closing it now".
 *
 * @param byMe whether the trainee must be the one who does it: "I didn't hold it, it moved" mends nothing
 */
function mendingClause({ tokens, clauses, at }: Place, byMe: boolean): Clause | null {
  return (
    clauses.slice(at + 1, at + 4).find((next) => {
      const text = textOf(tokens, next);
      const against = RULES.some((rule) => mannerOf(rule.stance) === null && rule.pattern.test(text));
      const mine = !byMe || / (?:i|we|let me|let us) /.test(text);
      return / (?:it|that|them|those|ones?) /.test(text) && mine && !against;
    }) ?? null
  );
}

/** The part of a clause's sentence around it that no "but" cuts off: "soon I take soap, but first I wet my hands". */
function unbroken(tokens: readonly Token[], clauses: readonly Clause[], clause: Clause): Stretch {
  const turns = clauses
    .filter(({ sentence, from }) => sentence === clause.sentence && tokenAt(tokens, from).word === 'but')
    .map(({ from }) => from);
  const { from, to } = sentenceAround(clauses, clause);
  return {
    from: turns.findLast((at) => at <= clause.from) ?? from,
    to: turns.find((at) => at > clause.from) ?? to,
  };
}

/** Whether a clause has a subject or a "now" of its own. */
const ownSubject = (text: string): boolean =>
  / now /.test(text) ||
  /^ (?:(?:and|or|so|but|then|first|next|okay|ok) )*(?:i|we|you|it|my|your|the|this|that|there|what|who|where|how) /.test(
    text,
  ) ||
  /^ (?:(?:and|so|but) )*(?:may|can|could|shall|would|will|do|are|is) (?:i|you|we) /.test(text);

/** Whether a clause goes on after a comma with the subject of the one before it. */
function dependsOnLast({ tokens, clauses, at, clause, text }: Place): boolean {
  const last = clauses[at - 1];
  return last?.sentence === clause.sentence && tokens[last.to - 1]?.ends === ',' && !ownSubject(text);
}

/** A phrase that a pattern's group `m` found in a stretch's text: its words and its tokens. */
interface Found {
  readonly phrase: string;
  readonly first: number;
  readonly tokens: readonly number[];
}

/**
 * The phrase that a pattern finds; null where it finds none.
 *
 * @param from the token that the text begins with
 */
function find(pattern: RegExp, text: string, from: number): Found | null {
  const hit = pattern.exec(text);
  const phrase = hit?.groups?.['m'];
  if (!hit || phrase === undefined) return null;
  const before = text.slice(0, hit.index + hit[0].lastIndexOf(phrase));
  const first = from + before.split(' ').length - 2;
  return { phrase, first, tokens: phrase.split(' ').map((_, i) => first + i) };
}

/** Nothing but words that join a clause to the one before. */
const CONNECTORS = /^ *(?:(?:and|so|but|or|well|okay|ok|then|only|uh|um) )* *$/;

/** What a "when" or an "if" takes from the clauses of its sentence that look ahead. */
function aheadMarkers(tokens: readonly Token[], clauses: readonly Clause[]): Marker[] {
  return clauses.flatMap((clause) => {
    const { from, to } = unbroken(tokens, clauses, clause);
    if (from !== clause.from) return [];
    const within = clauses.filter((part) => part.from >= from && part.to <= to);
    const ahead = within.filter((part) => AHEAD.test(textOf(tokens, part)));
    if (ahead.length === 0) return [];
    const text = textOf(tokens, { from, to });
    return AHEAD_RULES.flatMap(({ stance, pattern }): Marker[] => {
      const found = find(pattern, text, from);
      if (!found) return [];
      const own = clauseAt(clauses, found.first);
      // "I would knock, and come in when they say so": only what comes in waits.
      const opens = CONNECTORS.test(textOf(tokens, { from: own.from, to: found.first }));
      const reach = opens ? [...ahead, own] : [own];
      return reach.map((part) => ({ stance, tokens: found.tokens, from: part.from, to: part.to }));
    });
  });
}

/** A clause among the others, with its words. */
interface Place {
  readonly tokens: readonly Token[];
  readonly clauses: readonly Clause[];
  /** Its index among the clauses. */
  readonly at: number;
  readonly clause: Clause;
  readonly text: string;
  /** Whether a slip is being put right. */
  readonly correcting: boolean;
}

/** What one rule finds in a clause. */
function markerBy(rule: Rule, place: Place): Marker | null {
  const { tokens, clause, text, correcting } = place;
  const found = find(rule.pattern, text, clause.from);
  if (!found) return null;
  if (rule.question && tokens[clause.to - 1]?.ends !== '?') return null;
  if (rule.stance === 'asked' && asksResident(text)) return null;
  if (rule.unless?.some((pattern) => pattern.test(text))) return null;
  const undone = /^(?:not|never)$/.test(found.phrase) && NOT_DONE.test(text);
  const forgets = FORGETS.test(found.phrase) || undone;
  const mended = forgets ? mendingClause(place, undone) : null;
  return {
    stance: correcting && forgets && rule.stance === 'denied' ? 'told' : rule.stance,
    tokens: found.tokens,
    ...reachOf(rule, found, place),
    ...(mended && { mendedFrom: mended.from }),
    ...(FINDING.test(text) && { findingFrom: clause.from }),
  };
}

/** How far a rule's marker reaches. */
function reachOf({ reach }: Rule, { first }: Found, { tokens, clauses, clause }: Place): Stretch {
  switch (reach) {
    case 'clause':
      return { from: clause.from, to: clause.to };
    case 'onward':
      return { from: first, to: clause.to };
    case 'rest':
      return { from: first, to: unbroken(tokens, clauses, clause).to };
    case 'sentence':
      return unbroken(tokens, clauses, clause);
    case 'whole':
      return sentenceAround(clauses, clause);
  }
}

/** "Let me bunch, no, roll it": a word to oneself. */
const INTERJECTION = /^ (?:oh )?no $/;

/**
 * Finds what takes the assertion away from parts of an utterance.
 *
 * A clause after a comma that has no subject of its own shares the fate of the one before it ("I have not washed my
 * hands, checked the band or closed the curtain"): rather a missed credit than a false one.
 *
 * @param correcting whether a slip is being put right: what was forgotten is then told, not denied
 */
export function findMarkers(
  tokens: readonly Token[],
  clauses: readonly Clause[],
  correcting = false,
): Marker[] {
  const markers = aheadMarkers(tokens, clauses);
  let handedOn: readonly Marker[] = [];
  clauses.forEach((clause, at) => {
    const text = textOf(tokens, clause);
    const place = { tokens, clauses, at, clause, text, correcting };
    const own = RULES.flatMap((rule) => markerBy(rule, place) ?? []);
    const { from, to } = clause;
    const inherited = dependsOnLast(place) ? handedOn.map((m) => ({ ...m, from, to })) : [];
    markers.push(...own, ...inherited);
    handedOn = INTERJECTION.test(text) ? [] : [...own, ...inherited].filter((m) => m.stance !== 'mentioned');
  });
  return markers;
}
