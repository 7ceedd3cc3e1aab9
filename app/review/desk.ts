import { BACK_SECONDS, type Action } from './keys.ts';
import type { Verdict } from './review.ts';
import { openRows, type Row } from './sideBySide.ts';

/** Where a reviewer is: at which step, and whether a comment is being written. Counts the keys that were pressed. */
export interface Desk {
  /** Id of the step. */
  readonly step: string;
  /** The moment of the recording that a comment being written is about; null while none is. */
  readonly commentAt: number | null;
  readonly keys: number;
}

/** What is to be done about a key, outside. */
export type Effect =
  | { readonly do: 'play or stop' }
  /** Go to a moment and stay as it is, playing or not. */
  | { readonly do: 'seek'; readonly to: number }
  /** Play a stretch, seconds. */
  | { readonly do: 'hear'; readonly from: number; readonly to: number }
  | {
      readonly do: 'verdict';
      readonly step: string;
      readonly verdict: Verdict;
      readonly heardAt: number | null;
    }
  /** Put the cursor into a field of the step that is open. */
  | { readonly do: 'write'; readonly field: 'reason' | 'measure' }
  | { readonly do: 'sign off' }
  /** It cannot be signed while so many steps have no verdict. */
  | { readonly do: 'refuse'; readonly open: number };

/** What a key leads to. */
export interface Pressed {
  readonly desk: Desk;
  readonly effects: readonly Effect[];
}

/** A desk at the first step that has no verdict, or the first of all. */
export const openDesk = (rows: readonly Row[]): Desk => ({
  step: (openRows(rows)[0] ?? rows[0])?.step ?? '',
  commentAt: null,
  keys: 0,
});

/**
 * Carries an action out. Pure.
 *
 * @param now where the recording is, seconds; null where it was not played yet, or there is none
 */
export function press(desk: Desk, rows: readonly Row[], action: Action, now: number | null): Pressed {
  const counted = { ...desk, keys: desk.keys + 1 };
  const only = (...effects: Effect[]): Pressed => ({ desk: counted, effects });
  const at = rows.findIndex(({ step }) => step === desk.step);
  const row = rows[at];
  switch (action) {
    case 'play':
      return only({ do: 'play or stop' });
    case 'back':
      return only({ do: 'seek', to: Math.max(0, (now ?? 0) - BACK_SECONDS) });
    case 'hear':
      return only(...hear(row));
    case 'next':
      return { desk: { ...counted, step: (rows[at + 1] ?? row)?.step ?? desk.step }, effects: [] };
    case 'previous':
      return { desk: { ...counted, step: (rows[at - 1] ?? row)?.step ?? desk.step }, effects: [] };
    case 'reason':
      return only({ do: 'write', field: 'reason' });
    case 'measure':
      return row?.measure ? only({ do: 'write', field: 'measure' }) : only();
    case 'comment':
      return { desk: { ...counted, commentAt: now ?? 0 }, effects: [] };
    case 'sign off':
      return only(signOff(rows));
    default:
      return row?.mark ? judge(counted, rows, at, action, now) : only();
  }
}

function hear(row: Row | undefined): Effect[] {
  const evidence = row?.mark?.evidence;
  return evidence ? [{ do: 'hear', from: evidence.start, to: evidence.end }] : [];
}

function signOff(rows: readonly Row[]): Effect {
  const open = openRows(rows).length;
  return open === 0 ? { do: 'sign off' } : { do: 'refuse', open };
}

/** Gives a verdict, and goes on to the next step that has none: below first, then from the top. */
function judge(desk: Desk, rows: readonly Row[], at: number, verdict: Verdict, now: number | null): Pressed {
  const step = desk.step;
  // Where the machine named words of its own, those are what was judged.
  const heardAt = rows[at]?.mark?.outcome === 'not heard' && verdict === 'yes' ? now : null;
  const open = openRows([...rows.slice(at + 1), ...rows.slice(0, at)]);
  const next = open[0]?.step ?? rows[at + 1]?.step ?? step;
  return { desk: { ...desk, step: next }, effects: [{ do: 'verdict', step, verdict, heardAt }] };
}

/** The fewest keys that review what is open, sound unheard: a verdict each, and the signature. */
export const fewestKeys = (rows: readonly Row[]): number => openRows(rows).length + 1;
