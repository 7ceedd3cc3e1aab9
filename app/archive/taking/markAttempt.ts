import program from '../../../package.json' with { type: 'json' };
import { isCredit, markRehearsal } from '../../marking/result.ts';
import type { StepMark } from '../../marking/assessment.ts';
import type { Header } from '../../records/header.ts';
import { judgedIn, type Judged } from '../../records/judged.ts';
import type { Journal } from '../../records/journal.ts';
import { drawnIn } from '../../records/marker.ts';
import type { Review } from '../../review/review.ts';
import { UnknownVariant } from '../../skills/checklist.ts';
import { CannotDraw } from '../../skills/draw.ts';
import type { Rules } from '../../skills/skill.ts';
import type { Marking } from './schoolLibrary.ts';

/** A journal whose header can be read. */
export type ReadJournal = Journal & { readonly header: Header };

/** An attempt as the archive's tables have it. */
export interface Marked {
  readonly skill: string;
  /** Null for a mock test, and where nothing could be marked. */
  readonly version: number | null;
  readonly startedAt: Date;
  readonly seconds: number;
  readonly engine: string;
  readonly passed: boolean | null;
  readonly heard: number;
  readonly of: number;
  readonly criticalMissed: number;
  /** The program and all of the library that the marks rest on. */
  readonly markedBy: string;
  /** By a person, in each of its skills. */
  readonly signedOff: boolean;
  /** None where it cannot be marked, or only some steps of a skill were rehearsed. */
  readonly skills: readonly MarkedSkill[];
}

/** One skill of an attempt. */
export interface MarkedSkill extends Judged {
  /** Its index in a mock test, 0 in a rehearsal of one. */
  readonly place: number;
  readonly steps: readonly MarkedStep[];
}

export type MarkedStep = Pick<StepMark, 'id' | 'text' | 'critical' | 'outcome'> & {
  /** By the rules; null where words cannot show it. */
  readonly credited: boolean | null;
};

/** Marks an attempt under the version that its header names, as `Marker` does. */
export function markAttempt(record: string, journal: ReadJournal, { library, marker }: Marking): Marked {
  const { header, events } = journal;
  const { skill, startedAt, engine } = header;
  const summary = marker.summarise(record, { ...journal, samples: 0 });
  const skills = skillsIn(journal, { library, marker });
  const lastSaid = Math.max(0, ...skills.flatMap(({ state }) => state.utterances.map(({ end }) => end)));
  const isTest = drawnIn(events) !== undefined;
  return {
    skill,
    version: summary.version,
    startedAt: new Date(startedAt),
    // One that was broken off has no end.
    seconds: summary.seconds || lastSaid,
    engine,
    passed: summary.passed,
    heard: summary.heard,
    of: summary.of,
    criticalMissed: summary.criticalMissed.length,
    markedBy: `${program.version} ${marker.basisOf(skill, header.version, isTest)}`,
    signedOff: skills.length > 0 && skills.every(({ review }) => review.signedOff !== null),
    skills,
  };
}

function skillsIn(journal: ReadJournal, { library, marker }: Omit<Marking, 'isOwn'>): MarkedSkill[] {
  if (journal.header.only) return [];
  try {
    return judgedIn(journal, library, marker.made).map((judged, place) => {
      const { checklist, state } = judged;
      const steps = markRehearsal(checklist, state).steps.map((mark) => stepOf(mark, checklist.rules));
      return { ...judged, place, steps };
    });
  } catch (error) {
    if (error instanceof UnknownVariant || error instanceof CannotDraw) return [];
    throw error;
  }
}

function stepOf(mark: StepMark, rules: Rules): MarkedStep {
  const { id, text, critical, outcome } = mark;
  return { id, text, critical, outcome, credited: outcome === 'needs eyes' ? null : isCredit(mark, rules) };
}

/** A person's verdicts as the archive's tables have them; null where the person could not tell. */
export const verdictsIn = ({ verdicts }: Review) =>
  [...verdicts.values()].map(({ step, verdict, by, madeAt }) => ({
    step,
    verdict: verdict === 'unsure' ? null : verdict === 'yes',
    by,
    madeAt: new Date(madeAt),
  }));
