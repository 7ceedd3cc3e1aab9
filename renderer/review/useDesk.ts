import { useEffect, useState, type RefObject } from 'react';
import { openDesk, press, type Desk, type Effect } from '../../app/review/desk.ts';
import { actionOf, type Action } from '../../app/review/keys.ts';
import type { Row } from '../../app/review/sideBySide.ts';
import type { Said } from './ReviewScreen.tsx';
import { shownRows, VERDICTS } from './reviewView.ts';
import type { Sound } from './sound/useSound.ts';

/** A reviewer at work: where she is, and her actions carried out. */
export interface DeskAtWork {
  readonly desk: Desk;
  readonly setDesk: (desk: Desk) => void;
  /** The reason being written, which goes with the next verdict. */
  readonly reason: string;
  readonly setReason: (reason: string) => void;
  /** What was last done, in words. */
  readonly told: string;
  readonly act: (action: Action) => void;
}

/**
 * @param skill index of the skill in the test
 * @param isBlind whether the machine's marks are hidden until a verdict is given
 * @param page where the fields of the step that is open stand
 */
export function useDesk(
  rows: readonly Row[],
  skill: number,
  isBlind: boolean,
  sound: Sound,
  page: RefObject<HTMLElement | null>,
  onSaid: (said: Said) => void,
): DeskAtWork {
  const [desk, setDesk] = useState(() => openDesk(rows));
  const [reason, setReason] = useState('');
  const [told, setTold] = useState('');
  useEffect(() => setReason(''), [desk.step]);

  const carryOut = (effect: Effect): void => {
    switch (effect.do) {
      case 'play or stop':
        return sound.playOrStop();
      case 'seek':
        return sound.seek(effect.to);
      case 'hear':
        return sound.play(effect.from, effect.to);
      case 'verdict': {
        const { step, verdict, heardAt } = effect;
        const said = { skill, step, verdict, heardAt, reason: reason.trim(), blind: isBlind };
        setTold(`${rows.find((row) => row.step === step)?.text ?? step}: ${VERDICTS[verdict]}.`);
        setReason('');
        return onSaid({ type: 'reviewed', ...said });
      }
      case 'write':
        return page.current?.querySelector<HTMLInputElement>(`[data-field="${effect.field}"]`)?.focus();
      case 'refuse':
        return setTold(`Not signed: ${effect.open} steps have no verdict yet.`);
      case 'sign off':
        setTold('Signed off.');
        return onSaid({ type: 'signed off', skill });
    }
  };
  const act = (action: Action): void => {
    const { desk: next, effects } = press(desk, shownRows(rows, isBlind), action, sound.now);
    setDesk(next);
    effects.forEach(carryOut);
  };
  return { desk, setDesk, reason, setReason, told, act };
}

/** Carries out the actions of keys, wherever on the page the focus is; none while they are switched off. */
export function useKeys(act: ((action: Action) => void) | null): void {
  useEffect(() => {
    const onKeyDown = (event: KeyboardEvent): void => {
      const action = act && isOurs(event) ? actionOf(event.key) : null;
      if (action === null) return;
      event.preventDefault();
      act?.(action);
    };
    window.addEventListener('keydown', onKeyDown);
    return () => window.removeEventListener('keydown', onKeyDown);
  }, [act]);
}

/**
 * Whether a key is a command to the review: not while writing; a slider keeps its arrows, a button or tick box Space and Enter to
 * itself.
 */
function isOurs({ target, key, ctrlKey, altKey, metaKey }: KeyboardEvent): boolean {
  if (ctrlKey || altKey || metaKey || !(target instanceof HTMLElement)) return false;
  if (target.matches('[type=range]')) return !key.startsWith('Arrow');
  if (target.matches('input:not([type=checkbox]), textarea, select')) return false;
  return !(target.matches('button, input, summary, a') && (key === ' ' || key === 'Enter'));
}
