import type { RehearsalEvent } from '../marking/events.ts';
import { isPassedOver, type Situation } from './situation.ts';

/** Events that say a step, with the words that do. */
type Saying = RehearsalEvent & { readonly type: 'credited' | 'reading' | 'movement' | 'clock' };

function isSaying(event: RehearsalEvent): event is Saying {
  switch (event.type) {
    case 'credited':
    case 'reading':
      return true;
    case 'movement':
      return event.form === 'full' || event.form === 'short';
    case 'clock':
      return event.move === 'start';
    default:
      return false;
  }
}

/** Which of the events put right, in a correction, what was not simply heard before: the last one of each step. */
export function repairs(
  { checklist, before, slips }: Situation,
  events: readonly RehearsalEvent[],
): RehearsalEvent[] {
  if (!slips) return [];
  const said = new Map(events.filter(isSaying).map((event) => [event.step, event]));
  return [...said].flatMap(([step, { type, evidence }]) => {
    const slip = slips.get(step);
    if (slip === undefined) return [];
    // A number said again is one corrected, whatever it was before. What was only still to come is no slip.
    const isSlip = slip === 'not heard' ? isPassedOver(checklist, before, step) : slip !== 'heard';
    return isSlip || type === 'reading' ? [{ type: 'repaired', step, slip, evidence }] : [];
  });
}
