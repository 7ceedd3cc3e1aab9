import type { Token } from './words.ts';

/**
 * How something was said. Only what is `asserted` counts as said-and-done; the others are the ways in which a
 * trainee can speak a step's words without doing it.
 */
export const STANCES = [
  'asserted',
  'denied', // "I forgot to…", "I have not…"
  'asked', // "should I…?"
  'supposed', // "if this were a pedal tap I would…"
  'planned', // "next I will…"
  'begun', // "I'll just draw this curtain for you": said as one does it, as good as done for most steps
  'postponed', // "later", "in a minute"
  'mentioned', // "before I rinse…"
  'reported', // "my teacher says to…"
  'told', // "did you…?", "you should…"
  'doubted', // "maybe I…"
] as const;
export type Stance = (typeof STANCES)[number];

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
}

/** A stretch of tokens with one verb and one subject, roughly. */
export interface Clause {
  readonly from: number;
  readonly to: number;
  /** Number of the sentence it belongs to. */
  readonly sentence: number;
}

/** The clause that a token stands in. */
export function clauseAt(clauses: readonly Clause[], token: number): Clause {
  return clauses.find((c) => token >= c.from && token < c.to)!;
}

/** Words after which "I" goes on with the clause instead of opening a new one. */
const HOLDS_SUBJECT = new Set(
  (
    'am is are was were do does did have has had will would shall should can could may might must ' +
    'if when whenever before after until unless because that what as while since where how which whether once ' +
    'and but so then now next first okay ok'
  ).split(' '),
);
const CONNECTS = new Set('and but so then because now next first okay ok'.split(' '));
const SUBORDINATES = new Set('before after until unless instead'.split(' '));
const OPENS_AFTER_SO = new Set('you your it the they that this there nobody no he she his her'.split(' '));
const DANGLES = new Set('to not the a an my and or if of i never no without'.split(' '));

const AUX = 'am|is|are|was|were|do|does|did|have|has|had|would|should|can|could|may|might|must';
const AUXILIARY = new RegExp(`^(?:${AUX})$`);

/** Cuts a token list into clauses: at punctuation, before a new subject, and before "before", "after", "until"… */
export function splitClauses(tokens: readonly Token[]): Clause[] {
  const cuts = new Map<number, boolean>(); // cut before this token → whether a sentence ends there
  const cut = (at: number): void => void (at > 0 && !cuts.has(at) && cuts.set(at, false));
  tokens.forEach((token, i) => {
    if (token.ends !== '' && i + 1 < tokens.length) {
      // A recogniser puts full stops into pauses: "I forgot to. Check the band." is still one sentence; "no they are not." is over.
      const isNo = token.word === 'no' && token.ends === ',' && (i === 0 || tokens[i - 1]!.ends !== '');
      const isReply = token.word === 'not' && tokens[i - 3]?.word === 'no';
      const dangling = token.ends !== '?' && DANGLES.has(token.word) && !isReply && !isNo;
      const courtesy = token.ends === ',' && tokens[i + 1]!.word === 'please';
      if (!dangling && !courtesy) cuts.set(i + 1, token.ends !== ',');
    }
    if (i === 0) return;
    const before = tokens[i - 1]!.word;
    if (token.word === 'i' || token.word === 'we') {
      let at = i;
      while (at > 0 && CONNECTS.has(tokens[at - 1]!.word)) at -= 1;
      const held = at === i && HOLDS_SUBJECT.has(before);
      const afterSubordinator = at < i && at > 0 && HOLDS_SUBJECT.has(tokens[at - 1]!.word);
      if (!held && !afterSubordinator) cut(at);
    }
    // "I'm after wetting my hands": an Irish perfect.
    const isPerfect =
      token.word === 'after' && before === 'am' && tokens[i + 1]?.word.endsWith('ing') === true;
    const opens =
      (SUBORDINATES.has(token.word) && !isPerfect) ||
      token.word === 'but' ||
      token.word === 'because' ||
      // "I am your aide and don't you mind the noise": what is denied comes after the "and".
      (token.word === 'and' && tokens[i + 2]?.word === 'not' && AUXILIARY.test(tokens[i + 1]!.word)) ||
      (token.word === 'so' && OPENS_AFTER_SO.has(tokens[i + 1]?.word ?? ''));
    if (opens) cut(i);
  });
  const starts = [0, ...[...cuts.keys()].filter((k) => k > 0).sort((a, b) => a - b)];
  let sentence = 0;
  return starts
    .map((from, i) => {
      if (cuts.get(from) === true) sentence += 1;
      return { from, to: starts[i + 1] ?? tokens.length, sentence };
    })
    .filter((clause) => clause.to > clause.from);
}

interface Rule {
  readonly stance: Marker['stance'];
  /** Matched against the clause's words joined by single spaces, with a space at both ends. Groups named m are the marker. */
  readonly pattern: RegExp;
  /** `clause`: all of it; `onward`: from the marker to the clause's end; `rest`: to the sentence's; `sentence`: all of it, up to a "but". */
  readonly reach: 'clause' | 'onward' | 'rest' | 'sentence';
  /** Only where the recogniser set a question mark. */
  readonly question?: true;
  /** Not in a clause that one of these matches. */
  readonly unless?: readonly RegExp[];
}

/** "I will" with words of the moment and none of a sequence. */
const BEGUN =
  /^(?!.* (?:next|then|after|afterwards|later|once|when|tomorrow|in a (?:minute|moment|second|bit|few)) ).* (?:i|we) (?<m>will|shall) (?:just |(?!not |never |be |you |i |we )(?=(?:[a-z']+ )*?(?:you|your|this|these|here|there|again|now|back) ))/;

/** "You'll feel a towel across your chest". */
const NOTICED = / you (?<m>will) (?:just |now )?(?:feel|see|hear|notice)(?= )/;

/** Another day than today. */
const ONCE =
  'yesterday|tomorrow|the other day|next (?:week|month|year)|last (?:week|month|year|night|summer|winter|time (?:i|we))|(?:[a-z]+ )?(?:days?|weeks?|months?|years?) ago';

/** "I'll be looking after you today" says who one is. At the clause's end: "I'll be helping you wash your hands" is a plan. */
const INTRODUCES =
  /(?:i|we) (?:will|shall) be (?:the one to )?(?:look(?:ing)? after|tak(?:e|ing) care of|help(?:ing)?|work(?:ing)? with|car(?:e|ing) for|assist(?:ing)?|with|your [a-z ]+?)(?: you)?(?: all)?(?: (?:today|tonight|now|this (?:morning|afternoon|evening|shift)))* $/;

/** Beginnings of the verbs of care, in present and past: what somebody else may be said to do. */
const ACTS =
  'wash|clean|close|open|shut|pull|draw|drew|check|read|knock|lower|raise|lock|put|turn|take|took|' +
  'rinse|dry|dries|dried|scrub|rub|support|held|bend|bent|start|stop|write|wrote|record|ask|introduc|' +
  'greet|drop|throw|threw|lean|touch|use|skip|push|point|straighten|leave|left|explain|count|began|' +
  'said|told|tell|made|make|move|sanitiz';

/** Past participles of what is done in care, in front of what it is done to. */
const DONE_TO =
  '(?:[a-z]+ed|put|taken|took|done|made|shut|drawn|thrown|told|said|written|held|bent|wet) ' +
  '(?:my|your|her|his|him|the|an?|some|under|between|in|from|about|off|on|up|down|out|with|soap)';

/**
 * The order does not matter: every rule that matches adds its marker. Kept as data so that a way of speaking that the
 * corpus shows can be added in one line. Bare "not knock" is how recognisers write "knock knock".
 */
const RULES: readonly Rule[] = [
  { stance: 'denied', reach: 'clause', pattern: new RegExp(` (?:${AUX}|will|shall|i|we) (?:really |even |yet |also )?(?<m>not(?! mind )|never(?! used $))(?= )`) },
  { stance: 'denied', reach: 'onward', pattern: / (?<m>not(?! (?:knock|mind) )|never(?! used $)|without|no|nothing|neither|nor|avoid|avoids|avoiding|except|stop(?! (?:me|for|bell|button) )|stopped(?! for )|stopping(?! for )|instead of|rather than|unable)(?= )/ },
  { stance: 'denied', reach: 'clause', pattern: / (?<m>forgot|forget|forgotten|forgetting|skip|skipped|skipping|missed|omitted|left out|leaving out|almost|nearly|failed|tried|meant)(?= )/ },
  { stance: 'denied', reach: 'clause', pattern: / (?:i|we) (?<m>miss)(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: / (?<m>(?:should|do|did|have|had|am|must|was|can|could|shall|may|might|would|will) (?:i|we))(?! am )(?= )/ },
  { stance: 'asked', reach: 'clause', question: true, pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>(?:is|are|was|were|does|do) (?:it|this|that|they))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>(?:is|are|was|were|does|do) (?:the|my|she|he|all|both|her|his))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: / (?<m>(?:how|why|when|what|where|which|how long|how many|how often) (?:did|do|does|should|would|can|could|has|have) (?:they|you|he|she|it|we|i|people))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: / (?<m>(?:supposed|meant|allowed) to)(?= )/ },
  { stance: 'supposed', reach: 'sentence', pattern: / (?<m>if) (?!you |your )(?:[a-z']+ ){1,8}?(?:were|was|had|would)(?= )/ },
  { stance: 'supposed', reach: 'sentence', pattern: / (?<m>imagine|imagining|suppose|supposing|unless|in case|were this|were it)(?= )/ },
  { stance: 'supposed', reach: 'clause', pattern: / (?:i|we) (?:[a-z]+ly )?(?<m>would|could|might)(?! (?:like|love|you|i|we) )(?= )/ },
  { stance: 'supposed', reach: 'clause', pattern: / (?<m>would|could|might) (?:be|have)(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: / (?<m>will|shall)(?! (?:not|i|we|never|you) )(?= )/, unless: [BEGUN, INTRODUCES, NOTICED] },
  { stance: 'begun', reach: 'clause', pattern: BEGUN },
  { stance: 'begun', reach: 'clause', pattern: NOTICED },
  { stance: 'planned', reach: 'clause', pattern: / (?:am|is|are|was|were|be|still|now) (?<m>going to)(?! (?:the|my|your|her|his|a) )(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: /^ (?<m>going to)(?! (?:the|my|your|her|his|a) )(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: / (?:i|we) (?:still |also |will )?(?<m>need (?:a|an|some|the|my|another))(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: / (?:i|we) (?:still |also |then |now |just |really )?(?<m>need to|have to|has to|want to|must|should|ought to|plan to|would like to)(?! not )(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: / (?<m>needs?) [a-z]+ing(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: / (?:is|are|come|comes) (?<m>next)(?! to )(?= )/ },
  { stance: 'planned', reach: 'clause', pattern: / (?<m>about to|ready to|getting ready|will be|time to)(?= )/, unless: [INTRODUCES] },
  { stance: 'postponed', reach: 'sentence', pattern: / (?<m>later|soon|in a (?:moment|bit|second|while))(?= )/, unless: [/^ so / ] },
  { stance: 'postponed', reach: 'sentence', pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>in a minute)(?= )/ },
  { stance: 'mentioned', reach: 'onward', pattern: / (?<m>before|until|(?<! am )after)(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>(?:teacher|instructor|trainer|tutor|book|textbook|sheet|checklist|handout|nurse|mum|mother|friend|video|class|school|manual|programme|program|poster|sister) (?:always |just |also )?(?:say|said|says|tell|told|tells|want|wants|wanted|taught|teach|teaches|show|showed|shows))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<! what )(?<m>(?:she|he|they) (?:always |just |also )?(?:say|said|says|tell|told|tells|want|wants|wanted|taught|teach|teaches|show|showed|shows))(?= (?:to|that|us|me|i|we|you|the) )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>was told|were told|were taught|was taught|according to)(?= )/ },
  { stance: 'reported', reach: 'clause', pattern: new RegExp(`^ (?:(?:and|so|but|then|because|okay|ok) )*(?<m>(?:she|he|they|somebody|someone|everyone|everybody|people|(?:the|my|our|another|that) (?:[a-z]+ )?(?:nurse|aide|doctor|visitor|clerk|cleaner|porter|girl|boy|man|woman|physio|examiner|instructor|teacher|brother|sister|friend|grandmother|grandfather|student)(?: before me)?) (?:already |just |always |never |is |has |also )?(?:${ACTS})[a-z]*)(?= )`), unless: [/ (?:breaths?|respirations?) /] },
  { stance: 'reported', reach: 'clause', pattern: /^ (?<m>(?:she|he|they) has (?:her|his|their))(?= )/ },
  { stance: 'reported', reach: 'rest', pattern: /(?<! what) (?<m>(?:she|he|they) (?:says|said|tells|told))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>(?:likes|like|wants|want) us to)(?= )/ },
  { stance: 'told', reach: 'clause', pattern: new RegExp(`^ (?:(?:and|so|then|okay|ok) )*(?<m>you (?:always |just |usually |normally |first )?(?:would|will|need|${ACTS})[a-z]*)(?= )`), unless: [NOTICED] },
  { stance: 'supposed', reach: 'clause', pattern: / (?!you )[a-z]+ (?<m>should)(?! (?:i|we) )(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: /^ (?:(?:and|so|okay|ok|now|then|but) )*(?<m>should (?:the|my|it|they|he|she|your))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>in the (?:book|video|lab|class|manual))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: new RegExp(`^ (?:(?:and|so|but) )*(?<m>${ONCE})(?= )`) },
  { stance: 'reported', reach: 'clause', pattern: new RegExp(` (?<!(?:from|than|since) )(?<m>${ONCE})(?= )`) },
  { stance: 'told', reach: 'clause', pattern: /^ (?<m>always)(?= )/ },
  { stance: 'denied', reach: 'sentence', pattern: / (?<m>by (?:mistake|accident))(?= )/ },
  { stance: 'mentioned', reach: 'clause', pattern: / (?<m>there (?:was|were))(?= )/ },
  { stance: 'mentioned', reach: 'sentence', pattern: / (?<m>(?:was|were) (?:already|[a-z]+ when))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: /^ (?:(?:and|so|okay|ok|now|then|but) )*(?<m>(?:where|when|why) (?:is|are))(?= )/ },
  { stance: 'asked', reach: 'clause', question: true, pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>are you (?!feeling|hurting|having|doing|getting)[a-z]+ing)(?= )/ },
  { stance: 'told', reach: 'clause', pattern: / (?<m>you (?:should|must|need to|have to|forgot|ought|better|did|still))(?= )/ },
  { stance: 'told', reach: 'clause', pattern: / (?<m>(?:did|have|had) you)(?= )/ },
  { stance: 'told', reach: 'clause', pattern: / (?<m>(?:can|could|would|will) you) (?:please )?(?:close|open|shut|turn|put|hand|get|bring|lower|raise|wash|pull|draw|knock|rinse|dry)(?= )/ },
  { stance: 'told', reach: 'clause', pattern: /^ (?:close|open|shut|turn|put|lower|raise|wash|pull|draw|rinse|dry) .*(?<m>please)(?= )/ },
  { stance: 'told', reach: 'clause', pattern: / (?<m>remember to|make sure you|do not forget|remind)(?= )/ },
  // Nobody says "I have it washed my hands" or "I did to wash": so is "I haven't washed" and "I didn't wash" misheard.
  { stance: 'doubted', reach: 'clause', pattern: new RegExp(` (?:i|we) (?<m>have (?:it|been|an?|and|in|the|them|of)(?: to)?)(?= ${DONE_TO} )`) },
  { stance: 'doubted', reach: 'clause', pattern: new RegExp(` (?:i|we) (?<m>have (?:been|and|them|in|it) to)(?= (?:${ACTS}))`) },
  { stance: 'doubted', reach: 'clause', pattern: new RegExp(` (?:i|we) (?<m>did(?: to| it| in| and)?)(?= (?:${ACTS}))`) },
  { stance: 'doubted', reach: 'sentence', pattern: /^ (?:(?:and|so|okay|ok|now|then|but) )*(?<m>maybe|perhaps|probably)(?= )/ },
  { stance: 'doubted', reach: 'clause', pattern: / (?<m>(?<!(?:can|could|would|will) you )maybe|perhaps|probably|not sure|guess|wonder|wondering|whether)(?= )/ },
]; // prettier-ignore

/** A clause's words as the rules want them: joined by single spaces, with a space at both ends. */
function textOf(tokens: readonly Token[], { from, to }: Clause): string {
  const words = tokens.slice(from, to).map((t) => t.word);
  return ` ${words.join(' ')} `;
}

/** Whether the clause is a request to the resident ("may I see your wristband?"), which is a thing said, not a doubt. */
const asksResident = (text: string): boolean =>
  / (?:may|can|could|shall|might|would|will) (?:i|we) /.test(text) && / (?:you|your) /.test(text);

const FORGETS = /^(forgot|forget|forgotten|skip|skipped|miss|missed|left out)$/;

/** The clause after a forgotten thing that does it after all: "I'm closing it now". */
function mendingClause(tokens: readonly Token[], clauses: readonly Clause[], c: number): Clause | null {
  return (
    clauses.slice(c + 1, c + 4).find((next) => {
      const text = textOf(tokens, next);
      return / (?:it|that|them|those) /.test(text) && RULES.every((rule) => !rule.pattern.test(text));
    }) ?? null
  );
}

/** The part of a clause's sentence around it that no "but" cuts off: "soon I take soap, but first I wet my hands". */
function unbroken(
  tokens: readonly Token[],
  clauses: readonly Clause[],
  c: number,
): { from: number; to: number } {
  const { sentence } = clauses[c]!;
  const turns = (at: number): boolean => tokens[clauses[at]!.from]!.word === 'but';
  let [first, last] = [c, c];
  while (!turns(first) && clauses[first - 1]?.sentence === sentence) first -= 1;
  while (clauses[last + 1]?.sentence === sentence && !turns(last + 1)) last += 1;
  return { from: clauses[first]!.from, to: clauses[last]!.to };
}

/** Whether a clause has a subject or a "now" of its own, so that it does not lean on the one before it. */
const ownSubject = (text: string): boolean =>
  / now /.test(text) ||
  /^ (?:(?:and|or|so|but|then|first|next|okay|ok) )*(?:i|we|you|it|my|your|the|this|that|there|what|who|where|how) /.test(
    text,
  ) ||
  /^ (?:(?:and|so|but) )*(?:may|can|could|shall|would|will|do|are|is) (?:i|you|we) /.test(text);

/**
 * Finds what takes the assertion away from parts of an utterance.
 *
 * A clause after a comma that has no subject of its own shares the fate of the one before it ("I have not washed my
 * hands, checked the band or closed the curtain"): rather a missed credit than a false one.
 */
export function findMarkers(tokens: readonly Token[], clauses: readonly Clause[]): Marker[] {
  const markers: Marker[] = [];
  let leaning: readonly Marker[] = [];
  clauses.forEach((clause, c) => {
    const text = textOf(tokens, clause);
    const own: Marker[] = [];
    for (const rule of RULES) {
      const hit = rule.pattern.exec(text);
      const phrase = hit?.groups?.['m'];
      if (!hit || phrase === undefined) continue;
      if (rule.question && tokens[clause.to - 1]!.ends !== '?') continue;
      if (rule.stance === 'asked' && asksResident(text)) continue;
      if (rule.unless?.some((pattern) => pattern.test(text))) continue;
      const offset = hit.index + hit[0].lastIndexOf(phrase);
      const first = clause.from + text.slice(0, offset).split(' ').length - 2;
      const marker = Array.from({ length: phrase.split(' ').length }, (_, i) => first + i);
      const whole = unbroken(tokens, clauses, c);
      const from = { clause: clause.from, onward: first, rest: first, sentence: whole.from }[rule.reach];
      const to = rule.reach === 'clause' || rule.reach === 'onward' ? clause.to : whole.to;
      const mended = FORGETS.test(phrase) ? mendingClause(tokens, clauses, c) : null;
      own.push({ stance: rule.stance, tokens: marker, from, to, ...(mended && { mendedFrom: mended.from }) });
    }
    const previous = clauses[c - 1];
    const leans =
      previous?.sentence === clause.sentence && tokens[previous.to - 1]!.ends === ',' && !ownSubject(text);
    const inherited = leans ? leaning.map((m) => ({ ...m, from: clause.from, to: clause.to })) : [];
    markers.push(...own, ...inherited);
    leaning = [...own, ...inherited].filter((m) => m.stance !== 'mentioned');
  });
  return markers;
}
