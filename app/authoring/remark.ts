import type { Assessment, Outcome } from '../marking/assessment.ts';
import { attend } from '../run/attend.ts';
import type { Checklist } from '../skills/checklist.ts';
import type { RehearsalEvent } from '../marking/events.ts';
import { interpret } from '../interpreting/interpret.ts';
import { markRehearsal } from '../marking/result.ts';
import { BEFORE, fold, type State } from '../marking/state.ts';

/** A step that two versions of a skill mark otherwise. */
export interface Difference {
  readonly step: string;
  readonly text: string;
  readonly critical: boolean;
  /** Null where that version has no such step. */
  readonly before: Outcome | null;
  readonly after: Outcome | null;
  /** What there is to say to the later mark; mostly empty. */
  readonly note: string;
}

/** A rehearsal marked under another version. */
export interface Remarked {
  readonly before: Assessment['result'];
  readonly after: Assessment['result'];
  /** In the order of the other version's steps, those that it has no more last. */
  readonly differences: readonly Difference[];
}

/**
 * Marks a rehearsal's journal under another version of its skill, and lists what comes out otherwise. What was heard, asked
 * and paused stays as it was; what it means is worked out again. Pure.
 */
export function remark(from: Checklist, to: Checklist, events: readonly RehearsalEvent[]): Remarked {
  const before = markRehearsal(from, events.reduce(fold, BEFORE));
  const after = markRehearsal(to, hearAgain(to, events));
  const differences = after.steps.map(({ id, text, critical, outcome, note }): Difference => {
    const was = before.steps.find((step) => step.id === id)?.outcome ?? null;
    return { step: id, text, critical, before: was, after: outcome, note };
  });
  const gone = before.steps
    .filter(({ id }) => !after.steps.some((step) => step.id === id))
    .map(({ id, text, critical, outcome }): Difference => {
      return { step: id, text, critical, before: outcome, after: null, note: '' };
    });
  return {
    before: before.result,
    after: after.result,
    differences: [...differences, ...gone].filter((d) => d.before !== d.after),
  };
}

/** The state that a rehearsal's utterances lead to under a checklist. */
export function hearAgain(checklist: Checklist, events: readonly RehearsalEvent[]): State {
  return events.reduce((state, event) => againOf(checklist, state, event).reduce(fold, state), BEFORE);
}

/** What stands for an event of the journal: itself, nothing where it was a conclusion, new conclusions for what was heard. */
function againOf(checklist: Checklist, state: State, event: RehearsalEvent): readonly RehearsalEvent[] {
  switch (event.type) {
    case 'began':
      return [{ ...event, variants: checklist.variants }];
    case 'heard': {
      const again = attend(checklist, state, event.utterance);
      // A command that it was not then would leave the rest of the rehearsal paused.
      return again.some(({ type }) => type === 'aside')
        ? interpret(checklist, state, event.utterance)
        : again;
    }
    case 'aside': {
      if (event.why !== 'echo') return [event];
      const again = attend(checklist, state, event.utterance);
      return again.some((e) => e.type === 'aside' && e.why === 'echo') ? again : [event];
    }
    case 'commanded':
    case 'paused':
    case 'resumed':
    case 'spoke':
    case 'read back':
    case 'carried':
    case 'met':
    case 'handled':
    case 'ended':
      return [event];
    default:
      return [];
  }
}
