import { useEffect, useRef, useState } from 'react';
import type { ReviewEvent } from '../../app/marking/events.ts';
import type { State } from '../../app/marking/state.ts';
import { openDesk, press, type Effect } from '../../app/review/desk.ts';
import { actionOf, type Action } from '../../app/review/keys.ts';
import type { Review } from '../../app/review/review.ts';
import { sideBySide } from '../../app/review/sideBySide.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import { Caution } from '../parts/Caution.tsx';
import { transcriptOf } from '../room/endView.ts';
import '../styles/review.css';
import { Comments } from './Comments.tsx';
import { KeyHelp } from './KeyHelp.tsx';
import type { Peaks } from './peaks.ts';
import { isHidden, shownRows, VERDICTS } from './reviewView.ts';
import { ReviewTranscript } from './ReviewTranscript.tsx';
import { SideBySide } from './SideBySide.tsx';
import { SignOff } from './SignOff.tsx';
import { StepDesk } from './StepDesk.tsx';
import { useSound } from './useSound.ts';
import { Waveform } from './Waveform.tsx';

/** What a review says, without who says it and when: that is added where it is kept. */
export type Said<E = ReviewEvent> = E extends ReviewEvent ? Omit<E, 'by' | 'madeAt'> : never;

/** One skill of an attempt, with the machine's marks as one version of the skill has them. */
export interface Reviewable {
  readonly checklist: Checklist;
  readonly state: State;
  /** Index of the skill in the test, 0 in a rehearsal of one. */
  readonly skill: number;
  /** Length of the recording. */
  readonly seconds: number;
}

/** A narration heard and judged by a person beside the machine. */
export function ReviewScreen({
  attempt,
  review,
  sound: source,
  peaks,
  onSaid,
}: {
  readonly attempt: Reviewable;
  readonly review: Review;
  /** Address of the sound; null where none was kept. */
  readonly sound: string | null;
  readonly peaks: Peaks | null;
  readonly onSaid: (said: Said) => void;
}) {
  const { checklist, state, skill, seconds } = attempt;
  const [isBlind, setBlind] = useState(false);
  const [hasKeys, setKeys] = useState(true);
  const [reason, setReason] = useState('');
  const [told, setTold] = useState('');
  const rows = sideBySide(checklist, state, review);
  const shown = shownRows(rows, isBlind);
  const [desk, setDesk] = useState(() => openDesk(rows));
  const sound = useSound(source);
  const page = useRef<HTMLDivElement>(null);
  const row = rows.find(({ step }) => step === desk.step);
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
        setTold(`${rows.find((each) => each.step === step)?.text ?? step}: ${VERDICTS[verdict]}.`);
        return onSaid({
          type: 'reviewed',
          skill,
          step,
          verdict,
          reason: reason.trim(),
          heardAt,
          blind: isBlind,
        });
      }
      case 'write':
        return page.current?.querySelector<HTMLInputElement>(`[data-field="${effect.field}"]`)?.focus();
      case 'refuse':
        return setTold(`Not signed: ${effect.open} steps have no verdict yet.`);
      case 'sign off':
        setTold('Signed off.');
        return onSaid({ type: 'signed off' });
    }
  };
  const act = (action: Action): void => {
    const { desk: next, effects } = press(desk, shown, action, sound.now);
    setDesk(next);
    effects.forEach(carryOut);
  };
  useKeys(hasKeys ? act : null);
  const backToKeys = (): void => page.current?.focus();

  return (
    <div className="review" ref={page} tabIndex={-1}>
      <Waveform
        peaks={peaks}
        seconds={seconds}
        rows={shown}
        comments={review.comments}
        step={desk.step}
        now={sound.now}
        onSeek={sound.seek}
      />
      {source === null && <p className="notice">No sound was kept of it: only what was heard can be read.</p>}
      <p className="visually-hidden" role="status">
        {told}
      </p>
      <div className="review-columns">
        <SideBySide
          rows={rows}
          blind={isBlind}
          step={desk.step}
          onChoose={(step) => setDesk({ ...desk, step })}
        />
        <div className="review-desk">
          {row && (
            <StepDesk
              row={row}
              hidden={isHidden(row, isBlind)}
              canPlay={sound.ready}
              reason={reason}
              onReason={setReason}
              onAct={act}
              onMeasured={(value) => onSaid({ type: 'measured', skill, step: row.step, value })}
              onDone={backToKeys}
            />
          )}
          <Comments
            comments={review.comments}
            writingAt={desk.commentAt}
            onComment={(at, text) => onSaid({ type: 'commented', at, text })}
            onClose={() => {
              setDesk({ ...desk, commentAt: null });
              backToKeys();
            }}
            onAct={act}
            onSeek={sound.seek}
          />
          <SignOff rows={rows} rules={checklist.rules} review={review} told={told} onAct={act} />
          <div className="review-options">
            <label>
              <input type="checkbox" checked={isBlind} onChange={({ target }) => setBlind(target.checked)} />
              Hide the machine’s marks until I have judged
            </label>
            <label>
              <input type="checkbox" checked={hasKeys} onChange={({ target }) => setKeys(target.checked)} />
              Single keys
            </label>
          </div>
          <KeyHelp rows={rows} keys={desk.keys} />
        </div>
        <ReviewTranscript
          lines={transcriptOf(
            state,
            shown.flatMap(({ mark }) => mark ?? []),
          )}
          blind={isBlind}
          now={sound.now}
          onSeek={sound.seek}
        />
      </div>
      <Caution />
    </div>
  );
}

/** Carries out the actions of keys, wherever on the page the focus is; none while they are switched off. */
function useKeys(act: ((action: Action) => void) | null): void {
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

/** Whether a key is a command to the review: not while writing, and a button or tick box keeps Space and Enter to itself. */
function isOurs({ target, key, ctrlKey, altKey, metaKey }: KeyboardEvent): boolean {
  if (ctrlKey || altKey || metaKey || !(target instanceof HTMLElement)) return false;
  if (target.matches('input:not([type=checkbox]), textarea, select')) return false;
  return !(target.matches('button, input, summary, a') && (key === ' ' || key === 'Enter'));
}
