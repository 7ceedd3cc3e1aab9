import { AUX } from './clauses.ts';
import type { Stance } from './stance.ts';

/** The ways of speaking that take an assertion away, as data: what `findMarkers` (polarity.ts) looks for. */

/** A way of speaking that takes the assertion away, and how far. */
export interface Rule {
  readonly stance: Exclude<Stance, 'asserted'>;
  /** Matched against the clause's words joined by single spaces, with a space at both ends. Groups named m are the marker. */
  readonly pattern: RegExp;
  /**
   * `clause`: all of it; `onward`: from the marker to the clause's end; `rest`: to the sentence's; `sentence`: all of it, up
   * to a "but"; `whole`: past a "but" too.
   */
  readonly reach: 'clause' | 'onward' | 'rest' | 'sentence' | 'whole';
  /** Only where the recogniser set a question mark. */
  readonly question?: true;
  /** Not in a clause that one of these matches. */
  readonly unless?: readonly RegExp[];
}

/** "You'll feel a towel across your chest" is said as it is laid there. */
const NOTICED = / you (?<m>will) (?:just |now )?(?:feel|see|hear|notice)(?= )/;

/** Another day than today. */
const ONCE =
  'yesterday|tomorrow|the other day|next (?:week|month|year)|last (?:week|month|year|night|summer|winter|time (?:i|we))|(?:[a-z]+ )?(?:days?|weeks?|months?|years?) ago|(?:back |early |late )?in (?:january|february|march|april|june|july|august|september|october|november|december)|since (?:christmas|easter|last [a-z]+)';

/** "I'll be looking after you today" says who one is. At the clause's end: "I'll be helping you wash your hands" is a plan. */
const INTRODUCES =
  /(?:i|we) (?:will|shall) be (?:the one to )?(?:look(?:ing)? after|tak(?:e|ing) care of|help(?:ing)?|work(?:ing)? with|car(?:e|ing) for|assist(?:ing)?|with|your [a-z ]+?)(?: you)?(?: all)?(?: (?:today|tonight|now|this (?:morning|afternoon|evening|shift)))* $/;

/** "The bed would be lowered", "here would be her call light": told of a thing, not of a person. */
const PASSIVE =
  / (?!(?:i|we|it|that|she|he|they|you) )[a-z]+ (?<m>would) (?:then |now |also )?(?:be|go|get|come)(?= )/;

/** Who else may do something. */
const OTHERS =
  'she|he|they|somebody|someone|(?:the|my|our|another|that) (?:[a-z]+ )?(?:nurse|aide|doctor|partner|porter|cleaner|housekeeper|therapist|team)';

/** Beginnings of the verbs of care, in present and past: what somebody else may be said to do. */
const ACTS =
  'wash|clean|close|open|shut|pull|draw|drew|check|read|knock|lower|raise|lock|put|turn|take|took|' +
  'rinse|dry|dries|dried|scrub|rub|support|held|bend|bent|start|stop|write|wrote|record|ask|introduc|' +
  'greet|drop|throw|threw|lean|touch|use|skip|push|point|straighten|leave|left|explain|count|began|' +
  'said|told|tell|made|make|move|sanitiz';

/** What "you" is followed by where a way of doing things is told, and not the resident asked to help. */
const YOURS =
  'dress|scrape|wipe|brush|comb|shave|tie|tuck|pour|measure|pump|inflate|weigh|feed|apply|smooth|place|hang|spread|drape|cover|undress|button|slide|slip|wear|remove|soak|trim|file|wet|soap|lather|set|get|do';

/** Past participles of what is done in care, in front of what it is done to. */
const DONE_TO =
  '(?:[a-z]+ed|put|taken|took|done|made|shut|drawn|thrown|told|said|written|held|bent|wet) ' +
  '(?:my|your|her|his|him|the|an?|some|under|between|in|from|about|off|on|up|down|out|with|soap)';

/**
 * The order does not matter: every rule that matches adds its marker. Kept as data so that a way of speaking that the
 * corpus shows can be added in one line. Bare "not knock" is how recognisers write "knock knock".
 */
export const RULES: readonly Rule[] = [
  { stance: 'denied', reach: 'clause', pattern: new RegExp(` (?:${AUX}|will|shall|i|we) (?:really |even |yet |also )?(?<m>not(?! mind )|never(?! used $))(?= )`) },
  { stance: 'denied', reach: 'onward', pattern: / (?<m>not(?! (?:knock|mind) )|never(?! used $)|without|no|nothing|nowhere|neither|nor|avoid|avoids|avoiding|except|stop(?! (?:me|for|bell|button) )|stopped(?! for )|stopping(?! for )|instead of|rather than|unable)(?= )/ },
  { stance: 'denied', reach: 'clause', pattern: / (?<m>forgot|forget|forgotten|forgetting|skip|skipped|skipping|missed|omitted|hardly|barely|left out|leaving out|almost|nearly|failed|tried|meant)(?= )/ },
  { stance: 'denied', reach: 'clause', pattern: / (?:i|we) (?<m>miss)(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: / (?<m>(?:should|do|did|have|had|am|must|was|can|could|shall|may|might|would|will) (?:i|we))(?! am )(?= )/ },
  { stance: 'asked', reach: 'clause', question: true, pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>(?:is|are|was|were|does|do|did|has|have) (?:it|this|that|they|those|these))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>(?:is|are|was|were|does|do|did) (?:the|my|she|he|all|both|her|his))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: / (?<m>(?:how|why|when|what|where|which|how long|how many|how often) (?:did|do|does|should|would|can|could|has|have) (?:they|you|he|she|it|we|i|people))(?= )/ },
  { stance: 'general', reach: 'rest', pattern: / (?<m>(?:supposed|meant|allowed) to)(?= )/ },
  { stance: 'hypothetical', reach: 'sentence', pattern: / (?<m>if) (?!you |your )(?:[a-z']+ ){1,8}?(?:were|was|had|would)(?= )/ },
  { stance: 'hypothetical', reach: 'sentence', pattern: / (?<m>imagine|imagining|suppose|supposing|unless|in case|were this|were it)(?= )/ },
  { stance: 'hypothetical', reach: 'sentence', pattern: /^ (?:(?:and|so|but) )?(?<m>say) (?:there|she|he|it|the|they|i|we|you) (?:[a-z]+ )?(?:was|were|had|has|is|got)(?= )/ },
  { stance: 'hypothetical', reach: 'clause', pattern: / (?:i|we) (?:[a-z]+ly )?(?<m>could|might)(?! (?:like|love|you|i|we) )(?= )/ },
  { stance: 'hypothetical', reach: 'clause', pattern: / (?!(?:i|we) )[a-z]+ (?<m>(?:would|could|might) (?:be|have))(?= )/, unless: [/ (?:i|we) (?:[a-z]+ )?would (?:have|be) /, PASSIVE] },
  { stance: 'told', reach: 'clause', pattern: / (?:i|we) (?:[a-z]+ly |just |then |also |now |first )*(?<m>would)(?! (?:like|love|you|i|we) )(?= )/ },
  { stance: 'told', reach: 'clause', pattern: / (?:i|we) (?:[a-z]+ly |just |also )?(?<m>should have)(?= )/ },
  { stance: 'told', reach: 'clause', pattern: PASSIVE },
  { stance: 'begun', reach: 'clause', pattern: / (?<m>(?:would|will) (?:like|love) to)(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: / (?<m>will|shall)(?! (?:not|i|we|never|you) )(?= )/, unless: [INTRODUCES] },
  { stance: 'denied', reach: 'clause', pattern: / (?:was|were) (?:just |still )?(?<m>going to|about to)(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: / (?:am|is|are|be|still|now|just|i|we) (?<m>going to)(?! (?:the|my|your|her|his|a) )(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: /^ (?:(?:and|so|then|now|next|okay|ok) )*(?<m>going to)(?! (?:the|my|your|her|his|a) )(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: / (?:i|we) (?:also |will )?(?<m>need (?:a|an|some|the|my|another))(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: / (?:i|we) (?:also |then |now |just |really |first |only )*(?<m>need to|have to|have got to|got to|want to|plan to)(?! (?:not|remember) )(?= )/ },
  { stance: 'postponed', reach: 'clause', pattern: / (?<m>still (?:need|have to|has to|have got|got|want|must|should|going to))(?= )/ },
  { stance: 'general', reach: 'clause', pattern: / (?:i|we) (?:still |also |then |now |just |really |always )*(?<m>must|should|ought to|had better)(?! (?:not|have) )(?= )/ },
  { stance: 'general', reach: 'clause', pattern: / (?<m>needs?) [a-z]+ing(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: / (?:is|are|come|comes) (?<m>next)(?! to )(?= )/ },
  { stance: 'begun', reach: 'clause', pattern: / (?<m>about to|ready to|getting ready|time to|fixing to)(?= )/ },
  { stance: 'postponed', reach: 'sentence', pattern: / (?<m>later|soon|in a (?:moment|bit|second|while))(?= )/, unless: [/^ so (?!that is )/] },
  { stance: 'postponed', reach: 'sentence', pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>in a minute)(?= )/ },
  { stance: 'postponed', reach: 'sentence', pattern: / (?<m>in a (?:minute|sec)(?: or two| or so)?) $/, unless: [/ (?:breath|beat|count|time|how)[a-z]* /] },
  { stance: 'postponed', reach: 'sentence', pattern: / (?:goes|go|gets|get|got|comes|come|happens|waits) (?:[a-z]+ ){0,6}?(?<m>when|once|as soon as|after|at the (?:very )?end|last|later)(?= )/, unless: [/ (?:last|once) (?:name|more|again|time) /] },
  { stance: 'postponed', reach: 'sentence', pattern: / (?<m>next time)(?= )/ },
  { stance: 'postponed', reach: 'clause', pattern: / (?<m>can wait|has to wait|will wait|have to wait|at some point)(?= )/ },
  { stance: 'postponed', reach: 'sentence', pattern: / (?:is|are|that) (?:only |not )?(?<m>for (?:later|after|afterwards|when|once)|last|the (?:very )?last thing|(?:still )?(?:a few|some|two|three) steps (?:off|away))(?= )/, unless: [/ (?:last|once) (?:name|more|again|time|one) /] },
  { stance: 'postponed', reach: 'sentence', pattern: / (?!(?:press|push|ring|call|buzz|tell|know|say|stop|hurts?|just) )[a-z]+ (?<m>(?:only )?(?:when|once|as soon as)) (?:it|she|he|they|everything|that|all|both|there|the [a-z ]{2,16}?) (?:is|are|has|have)(?= )/, unless: [/ (?:you|your|tell|report) /] },
  { stance: 'postponed', reach: 'whole', pattern: / (?:but|so) (?<m>only when|only once|after|not (?:this minute|here|sooner|before|until)|that is (?:ages|a while|a bit) (?:away|off))(?= )/, unless: [/ (?:i|we) /] },
  { stance: 'postponed', reach: 'whole', pattern: / (?<m>not (?:yet|now)|but (?:that|it) (?:is|comes) (?:at the end|last|later|after|afterwards)) $/ },
  { stance: 'mentioned', reach: 'onward', pattern: / (?<m>before|until|(?<! am )after)(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>(?:teacher|instructor|trainer|tutor|book|textbook|sheet|checklist|handout|nurse|mum|mother|friend|video|class|school|manual|programme|program|poster|sister) (?:always |just |also )?(?:say|said|says|tell|told|tells|want|wants|wanted|taught|teach|teaches|show|showed|shows))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<! (?:what|like|as|way|when) )(?<m>(?:she|he|they) (?:always |just |also )?(?:say|said|says|tell|told|tells|want|wants|wanted|taught|teach|teaches|show|showed|shows))(?= (?:to|that|us|me|i|we|you|the) )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>was told|were told|were taught|was taught|according to)(?= )/ },
  { stance: 'reported', reach: 'clause', pattern: new RegExp(`^ (?:(?:and|so|but|then|because|okay|ok) )*(?<m>(?:she|he|they|somebody|someone|everyone|everybody|people|(?:the|my|our|another|that) (?:[a-z]+ )?(?:nurse|aide|doctor|visitor|clerk|cleaner|porter|girl|boy|man|woman|physio|examiner|instructor|teacher|brother|sister|friend|grandmother|grandfather|student)(?: before me)?) (?:already |just |always |never |is |has |also )?(?:${ACTS})[a-z]*)(?= )`), unless: [/ (?:breaths?|respirations?) /] },
  { stance: 'reported', reach: 'clause', pattern: /^ (?<m>(?:she|he|they) has (?:her|his|their))(?= )/ },
  { stance: 'reported', reach: 'clause', pattern: new RegExp(` (?:${OTHERS}) (?<m>will|would|can|is going to|are going to)(?! (?:have|be|feel|see) )(?= )`) },
  { stance: 'reported', reach: 'rest', pattern: /(?<! what) (?<m>(?:she|he|they) (?:says|said|tells|told))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>(?:likes|like|wants|want) us to)(?= )/ },
  { stance: 'addressed', reach: 'clause', pattern: new RegExp(`^ (?:(?:and|so|then|okay|ok) )*(?<m>you (?:always |just |usually |normally |first )?(?:would|will|need|${ACTS})[a-z]*)(?= )`), unless: [NOTICED] },
  { stance: 'general', reach: 'clause', pattern: / (?!you |i |we )[a-z]+ (?<m>should)(?! (?:i|we) )(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: /^ (?:(?:and|so|okay|ok|now|then|but) )*(?<m>should (?:the|my|it|they|he|she|your))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: / (?<m>in the (?:book|video|lab|class|manual))(?= )/ },
  { stance: 'reported', reach: 'sentence', pattern: new RegExp(`^ (?:(?:and|so|but) )*(?<m>${ONCE})(?= )`) },
  { stance: 'reported', reach: 'clause', pattern: new RegExp(` (?<!(?:from|than|since) )(?<m>${ONCE})(?= )`) },
  { stance: 'general', reach: 'clause', pattern: /^ (?<m>always)(?= )/ },
  { stance: 'general', reach: 'sentence', pattern: /(?:^(?: (?:and|so|but|well|okay|ok))* | (?:i|we|you|they|people|one) (?:would )?)(?<m>normally|usually|typically|generally|ordinarily|as a rule|in general)(?= )/, unless: [/ do you /] },
  { stance: 'general', reach: 'sentence', pattern: new RegExp(`^ (?:(?:and|so|but|because|well|okay|ok) )*(?<m>(?:most|all|some|many|other) (?:people|folks|aides|students|trainees|of us)|everybody|everyone|anybody|anyone|people|folks|a person|aides|students|beginners|a good aide)(?! (?:ok|okay|ready|calls?|home|in|there) )(?= )`) },
  { stance: 'general', reach: 'sentence', pattern: / (?:what|as|than) (?<m>(?:most|many|some|healthy) (?:people|folks|adults))(?= )/ },
  { stance: 'general', reach: 'clause', pattern: /^ (?:(?:and|so|but|because|well) )*(?<m>nobody|no one)(?= )/ },
  { stance: 'general', reach: 'sentence', pattern: / (?<m>(?:it is|that is) (?:a|the|our) (?:rule|saying|policy|law|habit|trick|reason)|the (?:rule|trick|idea|point|secret|important (?:thing|part|bit)|main thing) is|it is (?:important|best|better|safest|good practice|essential|vital)|that is (?:how|why|what) (?:you|they|we|everybody|people)|(?:right|proper|correct|best|safe|safest) way)(?= )/ },
  { stance: 'general', reach: 'sentence', pattern: / (?<m>beginners?|rookies?|newcomers?|textbook|regulation|(?:my|the|our|any) (?:instructor|teacher|tutor|trainer|therapist|barber|training video|handbook|manual|policy)|golden rule|says the rule|old saying|frowned upon|(?:is|are) preferred|(?<! (?:when|what|if) )they say|(?:ask )?any (?:patient|resident|nurse|aide))(?= )/, unless: [/ (?:i|we|you|your|she|he) (?!say|think|guess|know)/] },
  { stance: 'asked', reach: 'sentence', question: true, pattern: / (?<m>(?:is|does|do|was|did|are) not (?:it|that|one|they|this)(?: so| right)?|am i right|or (?:is|was) (?:it|that|the)[a-z ]*|is it) $/, unless: [/ (?:you|your|too|comfortable|okay|ok|hurts?|pain|sore|warm|cold|feel|like) /] },
  { stance: 'general', reach: 'clause', pattern: / (?!(?:i|we|you|no|just|only|really|then|now|also|first) )[a-z]+ (?<m>(?:has|have|needs?|ought|got) to (?:be|go|come|stay|touch|get)|must|(?:is|are) to be)(?! not )(?= )/ },
  { stance: 'general', reach: 'clause', pattern: / (?<! (?:do|if|what) )(?<m>you (?:only|never|always|want to|cannot|can not|do not want|have got to|got to))(?= )/ },
  { stance: 'general', reach: 'sentence', pattern: / (?<m>(?:they|nobody|no one|somebody|she|he|it|evaluators?|examiners?) (?:will |would |always |do not |does not |only )*(?:marks?|grades?|scores?|takes? points?|watch(?:es)? for|looks? for|expects?|counts? (?:against|as|for)|fails? (?:you|us|people)|teach(?:es)?))(?= )/ },
  { stance: 'general', reach: 'clause', pattern: new RegExp(`^ (?:(?:and|so|then|okay|ok|because) )*(?<m>you (?:just |first )?(?:${YOURS})s?)(?= )`) },
  { stance: 'denied', reach: 'sentence', pattern: / (?<m>by (?:mistake|accident))(?= )/ },
  { stance: 'mentioned', reach: 'clause', pattern: / (?<m>there (?:was|were))(?= )/ },
  { stance: 'mentioned', reach: 'sentence', pattern: / (?<m>(?:was|were) (?:already|[a-z]+ when))(?= )/ },
  { stance: 'asked', reach: 'clause', pattern: /^ (?:(?:and|so|okay|ok|now|then|but) )*(?<m>(?:where|when|why) (?:is|are))(?= )/ },
  { stance: 'asked', reach: 'clause', question: true, pattern: /^ (?:(?:and|so|okay|ok|now|then) )*(?<m>are you (?!feeling|hurting|having|doing|getting)[a-z]+ing)(?= )/ },
  { stance: 'addressed', reach: 'clause', pattern: / (?<m>you (?:should|must|need to|have to|forgot|ought|better|did|still))(?= )/ },
  { stance: 'addressed', reach: 'clause', pattern: / (?<!(?:to|will|would|let me|just) )(?<m>(?:did|have|had) you)(?= )/ },
  { stance: 'addressed', reach: 'clause', pattern: / (?<m>(?:can|could|would|will) you) (?:please )?(?:close|open|shut|turn|put|hand|get|bring|lower|raise|wash|pull|draw|knock|rinse|dry)(?= )/ },
  { stance: 'addressed', reach: 'clause', pattern: /^ (?:close|open|shut|turn|put|lower|raise|wash|pull|draw|rinse|dry) .*(?<m>please)(?= )/ },
  { stance: 'addressed', reach: 'clause', pattern: / (?<m>remember to|make sure you|do not forget|remind)(?= )/ },
  // Nobody says "I have it washed my hands" or "I did to wash": so is "I haven't washed" and "I didn't wash" misheard.
  { stance: 'doubted', reach: 'clause', pattern: new RegExp(` (?:i|we) (?<m>have (?:it|been|an?|and|in|the|them|of)(?: to)?)(?= ${DONE_TO} )`) },
  { stance: 'doubted', reach: 'clause', pattern: new RegExp(` (?:i|we) (?<m>have (?:been|and|them|in|it) to)(?= (?:${ACTS}))`) },
  { stance: 'doubted', reach: 'clause', pattern: new RegExp(` (?:i|we) (?<m>did(?: to| it| in| and)?)(?= (?:${ACTS}))`) },
  { stance: 'doubted', reach: 'sentence', pattern: /^ (?:(?:and|so|okay|ok|now|then|but) )*(?<m>maybe|perhaps|probably)(?= )/ },
  { stance: 'doubted', reach: 'clause', pattern: / (?<m>(?<!(?:can|could|would|will) you )maybe|perhaps|probably|not sure|guess|wonder|wondering|whether)(?= )/ },
]; // prettier-ignore

/** Words of what is still to come, in the clause that says it. */
export const AHEAD = / (?:will|shall|would(?! have)|going to|about to|(?:need|want|have|plan|got) to) /;

/** Said of the whole sentence: they take the assertion from its clauses that look ahead, and from the one they stand in. */
export const AHEAD_RULES: readonly Pick<Rule, 'stance' | 'pattern'>[] = [
  // Not "I check if…", which is "whether", nor "if you don't mind".
  { stance: 'hypothetical', pattern: / (?<!(?:check|checks|checking|see|sees|seeing|ask|asks|asking|know|feel|tell|look|looking|sure|wonder|as|even) )(?<m>if)(?! (?:you (?:do not|like|want|please|would|need|could|can|will|have)|that is|it is (?:ok|okay|all right|alright)|anything|i (?:may|can)) )(?= )/ },
  { stance: 'postponed', pattern: new RegExp(` (?<!(?:look|looking|looks) )(?<m>(?:when|once|whenever|as soon as|by the time|after) (?:i|we|you|she|he|it|they|the|that|this|these|those|my|your|her|his|all|everything|[a-z]+ing))(?= )`) },
  { stance: 'postponed', pattern: / (?<m>at the (?:very )?end|afterwards|afterward|on (?:my|the|our) way out|eventually|some other time|in (?:about )?(?:a few|a couple of|five|ten|two|three|twenty|thirty) (?:more )?(?:seconds|minutes)|in a (?:minute|sec|few))(?= )/ },
  { stance: 'postponed', pattern: / (?<m>(?:at|after) (?:the |a |one |full )*(?:twenty|20|sixty|60|minute))(?= )/ },
  { stance: 'postponed', pattern: / (?<m>before (?:i|we) (?:[a-z]+ )?(?:leave|go|finish|head|step|walk|get out)) (?:[a-z]+ )*?(?:will|shall|would) be [a-z]+ing(?= )/ },
  { stance: 'postponed', pattern: / (?:will|shall|would) be [a-z]+ing (?:[a-z]+ )*?(?<m>before (?:i|we) (?:[a-z]+ )?(?:leave|go|finish|head|step|walk|get out))(?= )/ },
]; // prettier-ignore
