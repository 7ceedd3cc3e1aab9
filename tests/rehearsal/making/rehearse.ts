import { Run } from '../../../app/run/run.ts';
import { practiceOf } from '../../../app/run/testPlan.ts';
import type { Checklist } from '../../../app/skills/checklist.ts';
import type { Command } from '../../../app/language/commands.ts';
import type { RehearsalEvent } from '../../../app/marking/events.ts';
import { markRehearsal } from '../../../app/marking/result.ts';
import type { State } from '../../../app/marking/state.ts';
import { utterance } from './narrate.ts';

/** What happens in a made-up rehearsal, one thing after the other. */
export type Happening =
  /** The trainee says it, two seconds after what came before unless a pause is given. */
  | string
  /** Seconds go by. */
  | number
  /** The speech that comes next sounds like this so far. */
  | { readonly partial: string }
  | { readonly press: Command }
  /** The coach says it; what comes next is heard from its beginning on, over it. */
  | { readonly coach: string };

export interface Rehearsed {
  readonly state: State;
  readonly events: readonly RehearsalEvent[];
  readonly marks: ReturnType<typeof markRehearsal>;
  readonly outcomes: Readonly<Record<string, string>>;
  /** Seconds at the end. */
  readonly now: number;
}

/** Lets a rehearsal happen in practice, and ends it. */
export async function rehearse(checklist: Checklist, script: readonly Happening[]): Promise<Rehearsed> {
  const events: RehearsalEvent[] = [];
  const run = new Run(
    practiceOf(checklist),
    (heard) => Promise.resolve(heard),
    (led) => events.push(...led),
  );
  let now = 0;
  let id = 0;
  for (const [i, happening] of script.entries()) {
    if (typeof happening === 'number') now += happening;
    else if (typeof happening === 'string') {
      const heard = utterance(happening, now, id++);
      await run.hear(heard);
      now = heard.end + (typeof script[i + 1] === 'number' ? 0 : 2);
    } else if ('partial' in happening) {
      const { start, end } = utterance(happening.partial, now);
      await run.partial({ text: happening.partial, start, end });
    } else if ('press' in happening) await run.command(happening.press, now);
    else {
      const { start, end } = utterance(happening.coach, now);
      await run.spoke({ text: happening.coach, from: start, to: end });
    }
  }
  await run.end(now);
  const { state } = run;
  const marks = markRehearsal(checklist, state);
  const outcomes = Object.fromEntries(marks.steps.map((s) => [s.id, s.outcome]));
  return { state, events, marks, outcomes, now };
}
