import type { Checklist } from '../../app/skills/checklist.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { outcomesOf } from '../../app/marking/result.ts';
import { fold, type State } from '../../app/marking/state.ts';
import type { Earcon } from './earcons.ts';

/**
 * The earcon for what an utterance led to, or null. One at most: several at once cannot be told apart, so the one that
 * asks something of the trainee goes first.
 *
 * @param before the state without the events
 */
export function earconFor(
  checklist: Checklist,
  before: State,
  events: readonly RehearsalEvent[],
): Earcon | null {
  const touched = new Set(
    events.flatMap((event) =>
      event.type === 'credited' ||
      event.type === 'doubted' ||
      event.type === 'withdrawn' ||
      event.type === 'movement' ||
      event.type === 'clock'
        ? [event.step]
        : [],
    ),
  );
  if (touched.size === 0) return null;
  const after = events.reduce(fold, before);
  const was = outcomesOf(checklist, before);
  const is = outcomesOf(checklist, after);
  const changedTo = (outcome: string): boolean =>
    [...touched].some((step) => is.get(step) === outcome && was.get(step) !== outcome);
  if (changedTo('out of order')) return 'out of order';
  if (events.some(({ type }) => type === 'withdrawn')) return 'unsure';
  const begun = events.some((event) => event.type === 'clock' && event.move === 'start');
  if (changedTo('heard') || begun) return 'credited';
  return events.some(({ type }) => type === 'doubted') && changedTo('unsure') ? 'unsure' : null;
}
