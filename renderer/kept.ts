import { foldRun, NO_RUN, type RunState } from '../app/run/runState.ts';
import { planOf, versionRemarks, type TestPlan } from '../app/run/testPlan.ts';
import { makeChecklist, type Checklist } from '../app/skills/checklist.ts';
import type { Skill } from '../app/skills/skill.ts';
import type { Loudness } from '../app/marking/events.ts';
import { BEFORE, fold, type State } from '../app/marking/state.ts';
import { loudnessIn } from '../app/loudness/voiceOverNoise.ts';
import type { Library, Rehearsal } from '../app/host/api.ts';
import { api } from './api.ts';

interface AnyOutcome {
  /** Id the host keeps it under; null when it could not be kept. */
  readonly id: string | null;
  /** Whether the host keeps sound of it. */
  readonly hasSound: boolean;
  readonly loudness: readonly Loudness[];
  /** What listened, as records name it. */
  readonly listening: string;
  /** What is to be said about the record itself. */
  readonly remarks: readonly string[];
}

/** A rehearsal that is over, or was cut off, as its result is shown. */
export type Outcome = AnyOutcome &
  (
    | {
        readonly of: 'skill';
        readonly checklist: Checklist;
        readonly state: State;
        /** Steps that were rehearsed; null for the whole skill. */
        readonly only: ReadonlySet<string> | null;
      }
    | { readonly of: 'test'; readonly plan: TestPlan; readonly test: RunState }
  );

/** The skill of a rehearsal in the version it is marked under, or as it is now where that one is not kept. */
export async function skillOf({ header }: Rehearsal, library: Library): Promise<Skill> {
  const now = library.skills.find((each) => each.id === header.skill);
  if (now && (header.version ?? now.version) === now.version) return now;
  const kept = await api.skillVersions(header.skill);
  const skill = kept.find(({ version }) => version === header.version) ?? now;
  if (!skill) throw new Error(`Its skill "${header.skill}" is no longer among the skills of this program.`);
  return skill;
}

/** A kept rehearsal, marked. Throws where there is none of that id, or its skill or rules are gone. */
export async function openKept(id: string, library: Library): Promise<Outcome> {
  const rehearsal = await api.rehearsal(id);
  const { header, events, faults, samples } = rehearsal;
  const remarks = faults.map(
    ({ line, message }) => `Line ${line} of its journal could not be read: ${message}`,
  );
  const common = { id, hasSound: samples > 0, loudness: loudnessIn(events), listening: header.engine };
  const test = events.reduce(foldRun, NO_RUN);
  if (test.drawn) {
    const plan = planOf(library, test.drawn);
    remarks.push(...versionRemarks(plan, test.drawn));
    return { ...common, of: 'test', plan, test, remarks };
  }
  const skill = await skillOf(rehearsal, library);
  if (header.version !== undefined && header.version !== skill.version)
    remarks.push(
      `Its version ${header.version} of the skill is not kept: it is marked under ${skill.version}.`,
    );
  return {
    ...common,
    of: 'skill',
    checklist: makeChecklist(skill, library.lexicon, library.rules, header.variants),
    state: events.reduce(fold, BEFORE),
    only: header.only ? new Set(header.only) : null,
    remarks,
  };
}
