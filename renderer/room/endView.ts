import type { Evidence, Outcome, StepMark } from '../../app/marking/assessment.ts';
import { bestSaying } from '../../app/run/coach.ts';
import type { State } from '../../app/marking/state.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import type { Lexicon } from '../../app/skills/skill.ts';
import type { Utterance } from '../../app/language/utterance.ts';
import { piecesOf } from '../../app/language/words.ts';

/** The parts of the result, in the order they matter. */
export interface Group {
  readonly key: 'critical' | 'told' | 'carried over' | Outcome;
  readonly title: string;
  readonly marks: readonly StepMark[];
}

const TITLES: Readonly<Record<Group['key'], string>> = {
  critical: 'Critical steps to put right',
  'not heard': 'Not heard',
  'out of order': 'Out of order',
  unsure: 'Unsure: may have been said',
  'needs eyes': 'Needs eyes: ask your instructor to watch',
  told: 'Told, not done',
  'carried over': 'Carried over: need not be said again',
  heard: 'Heard',
};

const keyOf = ({ critical, outcome, manner }: StepMark): Group['key'] => {
  if (outcome === 'heard') return manner === 'told' || manner === 'carried over' ? manner : outcome;
  return critical && outcome !== 'needs eyes' ? 'critical' : outcome;
};

/** The marks in groups: critical ones that were not simply heard come first. Empty groups are left out. */
export const groupsOf = (marks: readonly StepMark[]): Group[] =>
  (Object.keys(TITLES) as Group['key'][]).flatMap((key) => {
    const own = marks.filter((mark) => keyOf(mark) === key);
    return own.length > 0 ? [{ key, title: TITLES[key], marks: own }] : [];
  });

/** What there is to practise, the most urgent first. */
const TO_PRACTISE: readonly Group['key'][] = ['critical', 'not heard', 'out of order', 'unsure'];

/** A step to practise next, and the skill it is from. */
export interface Practice {
  readonly checklist: Checklist;
  readonly mark: StepMark;
}

/** How many steps one can keep in mind for the next time. */
const MOST = 3;

/** What to practise next, critical steps first. A step that several skills share is named once. */
export function practiseNext(
  skills: readonly { readonly checklist: Checklist; readonly marks: readonly StepMark[] }[],
): Practice[] {
  const all = skills.flatMap(({ checklist, marks }) => marks.map((mark) => ({ checklist, mark })));
  const inTurn = TO_PRACTISE.flatMap((key) => all.filter(({ mark }) => keyOf(mark) === key));
  const isFirst = ({ mark }: Practice, i: number): boolean =>
    inTurn.findIndex((other) => other.mark.text === mark.text) === i;
  return inTurn.filter(isFirst).slice(0, MOST);
}

/** The best thing to say next time for a step; null where it was heard, and where words cannot show it. */
export function sayingFor(checklist: Checklist, lexicon: Lexicon, { id, outcome }: StepMark): string | null {
  const step = checklist.steps.find((each) => each.id === id);
  return step && outcome !== 'heard' ? bestSaying(checklist, lexicon, step) : null;
}

/** Steps that words can show and that were not heard as they should be: what to try again. */
export const missedOf = (marks: readonly StepMark[]): string[] =>
  marks.filter(({ outcome }) => outcome !== 'heard' && outcome !== 'needs eyes').map(({ id }) => id);

/** When the last thing was said, for a rehearsal that was cut off; seconds. */
export const lastMoment = ({ utterances, asides, spoken }: State): number =>
  Math.max(
    0,
    ...utterances.map(({ end }) => end),
    ...asides.map(({ utterance }) => utterance.end),
    ...spoken.map(({ to }) => to),
  );

/** A stretch of a line of the transcript; `step` when a mark rests on it. */
export interface Piece {
  readonly text: string;
  readonly step: string | null;
  readonly outcome: Outcome | null;
}

export interface Line {
  readonly key: string;
  readonly who: 'you' | 'coach' | 'aside';
  readonly at: number;
  readonly end: number;
  readonly pieces: readonly Piece[];
  /** Why an aside was not marked. */
  readonly note: string;
}

const ASIDES = {
  echo: 'the coach’s own words',
  paused: 'said during the pause',
  command: 'a command',
  bench: 'said to an instrument',
} as const;

/** The words that a mark rests on. */
interface Ground {
  readonly step: string;
  readonly evidence: Evidence;
  readonly outcome: Outcome | null;
}

/** Everything that was said, in order, with what the marks rest on drawn in. */
export function transcriptOf(state: State, marks: readonly StepMark[]): Line[] {
  const grounds = groundsOf(state, marks);
  const lines: Line[] = [
    ...state.utterances.map((utterance): Line => ({
      ...lineOf('you', `u${utterance.id}`, utterance.start, utterance.end, ''),
      pieces: piecesOn(utterance, grounds),
    })),
    ...state.asides.map(({ utterance: { id, text, start, end }, why }): Line => ({
      ...lineOf('aside', `a${id}`, start, end, text),
      note: ASIDES[why],
    })),
    ...state.spoken.map(({ text, from, to }, i) => lineOf('coach', `s${i}`, from, to, text)),
  ];
  return lines.sort((a, b) => a.at - b.at);
}

const lineOf = (who: Line['who'], key: string, at: number, end: number, text: string): Line => ({
  key,
  who,
  at,
  end,
  pieces: [{ text, step: null, outcome: null }],
  note: '',
});

/** Every saying that credits a step, and every doubt where nothing better was said. */
function groundsOf(state: State, marks: readonly StepMark[]): Ground[] {
  const outcomes = new Map(marks.map(({ id, outcome }) => [id, outcome]));
  const groundOf = (step: string, evidence: Evidence): Ground => ({
    step,
    evidence,
    outcome: outcomes.get(step) ?? null,
  });
  const credits = Object.entries(state.credits).flatMap(([step, said]) => said.map((e) => groundOf(step, e)));
  const doubts = Object.entries(state.doubts).map(([step, { evidence }]) => groundOf(step, evidence));
  return [...credits, ...doubts.filter(({ outcome }) => outcome === 'unsure')];
}

/** An utterance cut where the words that a mark rests on begin and end. */
function piecesOn({ text, words }: Utterance, grounds: readonly Ground[]): Piece[] {
  const pieces: Piece[] = [];
  piecesOf(text).forEach((piece, i) => {
    const word = words[i];
    const middle = word ? (word.start + word.end) / 2 : NaN;
    const ground = grounds.find(({ evidence: { start, end } }) => start <= middle && middle <= end);
    const step = ground?.step ?? null;
    const last = pieces.at(-1);
    if (last && last.step === step) pieces.splice(-1, 1, { ...last, text: `${last.text} ${piece}` });
    else pieces.push({ text: piece, step, outcome: ground?.outcome ?? null });
  });
  return pieces;
}

/** How far apart two marks of one lane must stand, as a share of the line's width: a mark's own width. */
const APART = 0.028;
const LANES = 3;

/** A lane for each of some places along a line (0–1, in order), so that marks close together do not cover each other. */
export function lanesOf(places: readonly number[]): number[] {
  const last = new Array<number>(LANES).fill(-1);
  return places.map((place) => {
    const free = last.findIndex((taken) => place - taken >= APART);
    // All taken: the one whose mark is furthest away.
    const lane = free >= 0 ? free : last.indexOf(Math.min(...last));
    last[lane] = place;
    return lane;
  });
}
