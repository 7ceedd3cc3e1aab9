import type { Evidence, Outcome, StepMark } from '../../app/marking/assessment.ts';
import type { State } from '../../app/marking/state.ts';
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

/** The marks in groups: critical ones that were not simply heard come first. Empty groups are left out. */
export function groupsOf(marks: readonly StepMark[]): Group[] {
  const keyOf = ({ critical, outcome, manner }: StepMark): Group['key'] => {
    if (outcome === 'heard') return manner === 'told' || manner === 'carried over' ? manner : outcome;
    return critical && outcome !== 'needs eyes' ? 'critical' : outcome;
  };
  return (Object.keys(TITLES) as Group['key'][]).flatMap((key) => {
    const own = marks.filter((mark) => keyOf(mark) === key);
    return own.length > 0 ? [{ key, title: TITLES[key], marks: own }] : [];
  });
}

/** Steps that words can show and that were not heard as they should be: what to try again. */
export const missedOf = (marks: readonly StepMark[]): string[] =>
  marks.filter(({ outcome }) => outcome !== 'heard' && outcome !== 'needs eyes').map(({ id }) => id);

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
} as const;

/** Everything that was said, in order, with what the marks rest on drawn in. */
export function transcriptOf(state: State, marks: readonly StepMark[]): Line[] {
  const outcomes = new Map(marks.map(({ id, outcome }) => [id, outcome]));
  const evidence: { readonly step: string; readonly evidence: Evidence }[] = [
    ...Object.entries(state.credits).flatMap(([step, said]) => said.map((e) => ({ step, evidence: e }))),
    ...Object.entries(state.doubts).flatMap(([step, { evidence: e }]) =>
      outcomes.get(step) === 'unsure' ? [{ step, evidence: e }] : [],
    ),
  ];
  const lines: Line[] = [
    ...state.utterances.map((utterance): Line => {
      const texts = piecesOf(utterance.text);
      const pieces: Piece[] = [];
      texts.forEach((text, i) => {
        const word = utterance.words[i];
        const middle = word ? (word.start + word.end) / 2 : null;
        const mark =
          middle === null
            ? undefined
            : evidence.find(({ evidence: e }) => e.start <= middle && middle <= e.end);
        const step = mark?.step ?? null;
        const last = pieces.at(-1);
        if (last && last.step === step) pieces.splice(-1, 1, { ...last, text: `${last.text} ${text}` });
        else pieces.push({ text, step, outcome: step === null ? null : (outcomes.get(step) ?? null) });
      });
      return {
        key: `u${utterance.id}`,
        who: 'you',
        at: utterance.start,
        end: utterance.end,
        pieces,
        note: '',
      };
    }),
    ...state.asides.map(({ utterance, why }): Line => ({
      key: `a${utterance.id}`,
      who: 'aside',
      at: utterance.start,
      end: utterance.end,
      pieces: [{ text: utterance.text, step: null, outcome: null }],
      note: ASIDES[why],
    })),
    ...state.spoken.map(({ text, from, to }, i): Line => ({
      key: `s${i}`,
      who: 'coach',
      at: from,
      end: to,
      pieces: [{ text, step: null, outcome: null }],
      note: '',
    })),
  ];
  return lines.sort((a, b) => a.at - b.at);
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
