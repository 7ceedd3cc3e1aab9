import { createHash } from 'node:crypto';
import { describeFault } from '../faults/faults.ts';
import { shelfOf, skillAt, type Library } from '../library/library.ts';
import type { Assessment } from '../marking/assessment.ts';
import type { Drawn, RehearsalEvent } from '../marking/events.ts';
import { markRehearsal } from '../marking/result.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';
import { markTest } from '../run/mockTest.ts';
import { foldRun, NO_RUN } from '../run/runState.ts';
import { planOf, type MakeChecklist } from '../run/testPlan.ts';
import { attemptOf } from '../progress/attempt.ts';
import { keptAttempt, type KeptAttempt } from '../progress/keptAttempt.ts';
import { withoutReviewers } from '../review/review.ts';
import { makeChecklist, UnknownVariant, type Checklist } from '../skills/checklist.ts';
import { CannotDraw } from '../skills/draw.ts';
import type { Header } from './header.ts';
import type { Entry } from './index/entry.ts';
import { judgedIn } from './judged.ts';
import type { Kept } from './kept.ts';
import { SOUND_RATE } from './soundTrack.ts';
import type { RehearsalSummary } from './summary.ts';

type PastResult = RehearsalSummary['skills'][number];

type Marks = Pick<RehearsalSummary, 'version' | 'passed' | 'heard' | 'of' | 'criticalMissed' | 'skills'>;

/** Marks rehearsals by a library, as it is at that moment. */
export class Marker {
  private readonly checklists = new Map<string, Checklist>();
  /** Digests of parts of the library. What is read again is another object. */
  private readonly digests = new WeakMap<object, string>();

  constructor(private readonly library: Library) {}

  /** A rehearsal at a glance. */
  summarise(id: string, kept: Kept): RehearsalSummary {
    const { header, events, faults, samples } = kept;
    const { skill, startedAt, trainee = null } = header;
    const state = events.reduce(fold, BEFORE);
    const notes = faults.map(describeFault);
    const common = {
      id,
      skill,
      title: this.library.skills.get(skill)?.title ?? skill,
      startedAt,
      trainee,
      seconds: state.ended ?? samples / SOUND_RATE,
      state: state.ended === null ? ('interrupted' as const) : ('ended' as const),
    };
    try {
      const drawn = drawnIn(events);
      const marks = drawn ? this.markTest(events, drawn) : this.markSkill(header, state, notes);
      return { ...common, ...marks, note: notes.join('\n') };
    } catch (error) {
      if (!isUnmarkable(error)) throw error;
      const note = [...notes, `Not marked: ${error.message}`].join('\n');
      return { ...common, ...NOT_MARKED, note };
    }
  }

  /** The attempts at whole skills that a rehearsal holds, those of a test that were reached; none where it cannot be marked. */
  attemptsIn(id: string, { header, events }: Kept): Entry['attempts'] {
    const { startedAt, trainee = null, only } = header;
    if (only) return [];
    const attemptsBy = (some: readonly RehearsalEvent[]): KeptAttempt[] =>
      judgedIn({ header, events: some }, this.library, this.made).map(({ checklist, state, review }) =>
        keptAttempt(attemptOf({ id, startedAt, trainee }, checklist, state, review), checklist.skill.version),
      );
    try {
      const withoutReviews = withoutReviewers(events);
      const byPerson = withoutReviews.length < events.length ? attemptsBy(events) : [];
      return attemptsBy(withoutReviews).map((byMachine, i) => {
        const judged = byPerson[i];
        return judged ? { byMachine, byPerson: judged } : { byMachine };
      });
    } catch (error) {
      if (!isUnmarkable(error)) throw error;
      return [];
    }
  }

  /** @throws {UnknownVariant} also when there is no such skill */
  checklistOf(id: string, variants: Readonly<Record<string, string>>, version?: number): Checklist {
    const { skills, lexicon, rules, folder } = this.library;
    const skill = skillAt(this.library, id, version);
    if (!skill) {
      throw new UnknownVariant(
        `There is no skill "${id}" in ${folder}; there is: ${[...skills.keys()].join(', ')}.`,
      );
    }
    return this.made(skill, lexicon, rules, variants);
  }

  /**
   * Stands for all of the library that a rehearsal's summary rests on: while it is the same, so is the summary.
   *
   * @param version the one in the rehearsal's header
   */
  basisOf(skill: string, version: number | undefined, isTest: boolean): string {
    const { skills, versions, rules, ruleSets, forms } = this.library;
    const title = skills.get(skill)?.title ?? '';
    const old = [...versions.values()].flatMap((kept) => [...kept.values()]);
    const parts: readonly (object | undefined)[] = isTest
      ? [...skills.values(), ...old, ...ruleSets.values(), ...forms.values()]
      : [skillAt(this.library, skill, version), rules];
    return digest([title, ...parts.map((part) => this.digestOf(part))]);
  }

  /** {@link basisOf} for many rehearsals at once, as long as the library does not change. */
  rememberingBasisOf(): Marker['basisOf'] {
    const known = new Map<string, string>();
    return (skill, version, isTest) => {
      const key = `${skill} ${version ?? ''} ${isTest}`;
      const basis = known.get(key) ?? this.basisOf(skill, version, isTest);
      known.set(key, basis);
      return basis;
    };
  }

  private digestOf(part: object | undefined): string {
    if (!part) return '';
    const known = this.digests.get(part) ?? digest(part);
    this.digests.set(part, known);
    return known;
  }

  /** Marks a rehearsal of one skill, and notes what there is to say of its marks. */
  private markSkill({ skill, version, variants, only }: Header, state: State, notes: string[]): Marks {
    const checklist = this.checklistOf(skill, variants, version);
    const markedUnder = checklist.skill.version;
    if (version !== undefined && markedUnder !== version)
      notes.push(`Its version ${version} is not kept: marked under version ${markedUnder}.`);
    if (state.breaks.length > 0) notes.push(`Broken off and gone on with ${times(state.breaks.length)}.`);
    if (!only) {
      const { result } = markRehearsal(checklist, state);
      return { version: markedUnder, ...result, skills: [atAGlance(skill, result)] };
    }
    const steps = checklist.steps.filter((step) => only.includes(step.id));
    const { result } = markRehearsal({ ...checklist, steps }, state);
    notes.push(`Only ${steps.length} of ${checklist.steps.length} steps were rehearsed.`);
    return { version: markedUnder, ...result, passed: null, skills: [] };
  }

  /** Throws {@link CannotDraw} where its skills or rules are no longer there. */
  private markTest(events: readonly RehearsalEvent[], drawn: Drawn): Marks & { title: string } {
    const plan = planOf(shelfOf(this.library), drawn, this.made);
    const { passed, skills } = markTest(plan.checklists, plan.rules, events.reduce(foldRun, NO_RUN));
    const form = this.library.forms.get(drawn.form)?.title ?? `picked ${drawn.form}`;
    const sum = (numbers: readonly number[]): number => numbers.reduce((all, n) => all + n, 0);
    return {
      version: null,
      title: `Mock test: ${form}`,
      passed,
      heard: sum(skills.map(({ result }) => result.heard)),
      of: sum(skills.map(({ result }) => result.of)),
      criticalMissed: skills.flatMap(({ skill, result }) =>
        result.criticalMissed.map((id) => `${skill}: ${id}`),
      ),
      skills: skills.filter(({ reached }) => reached).map(({ skill, result }) => atAGlance(skill, result)),
    };
  }

  /** A checklist, made once for all rehearsals of it. */
  readonly made: MakeChecklist = (skill, lexicon, rules, variants = {}) => {
    const key = JSON.stringify([skill.id, skill.version, rules.id, variants]);
    const known = this.checklists.get(key);
    // A library that was read again has other skills under the same names.
    if (known?.skill === skill) return known;
    const checklist = makeChecklist(skill, lexicon, rules, variants);
    this.checklists.set(key, checklist);
    return checklist;
  };
}

/** Whether a rehearsal cannot be marked because its skill, variant or rules are gone. */
export const isUnmarkable = (error: unknown): error is Error =>
  error instanceof UnknownVariant || error instanceof CannotDraw;

const NOT_MARKED: Marks = { version: null, passed: null, heard: 0, of: 0, criticalMissed: [], skills: [] };

const atAGlance = (skill: string, { heard, of, criticalMissed }: Assessment['result']): PastResult => ({
  skill,
  heard,
  of,
  criticalMissed: [...criticalMissed],
});

/** The draw that a mock test begins with; undefined for a rehearsal of one skill. */
export const drawnIn = (events: readonly RehearsalEvent[]): Drawn | undefined =>
  events.find((event) => event.type === 'drawn');

const times = (n: number): string => (n === 1 ? 'once' : `${n} times`);

const digest = (value: unknown): string => createHash('sha256').update(JSON.stringify(value)).digest('hex');
