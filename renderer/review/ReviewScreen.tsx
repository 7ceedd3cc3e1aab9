import { useRef, useState } from 'react';
import type { ReviewEvent } from '../../app/marking/events.ts';
import type { State } from '../../app/marking/state.ts';
import type { Review } from '../../app/review/review.ts';
import { sideBySide } from '../../app/review/sideBySide.ts';
import type { Checklist } from '../../app/skills/checklist.ts';
import { Caution } from '../parts/Caution.tsx';
import { ResidentTruth } from '../atBench/ResidentTruth.tsx';
import { transcriptOf } from '../room/endView.ts';
import '../styles/screens/review.css';
import { Comments } from './Comments.tsx';
import { KeyHelp } from './KeyHelp.tsx';
import type { Peaks } from './sound/peaks.ts';
import { isHidden, shownRows } from './reviewView.ts';
import { ReviewTranscript } from './ReviewTranscript.tsx';
import { SideBySide } from './SideBySide.tsx';
import { SignOff } from './SignOff.tsx';
import { StepDesk } from './StepDesk.tsx';
import { useDesk, useKeys } from './useDesk.ts';
import { useSound } from './sound/useSound.ts';
import { Waveform } from './sound/Waveform.tsx';

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
  const rows = sideBySide(checklist, state, review);
  const shown = shownRows(rows, isBlind);
  const sound = useSound(source);
  const page = useRef<HTMLDivElement>(null);
  const { desk, setDesk, reason, setReason, told, act } = useDesk(rows, skill, isBlind, sound, page, onSaid);
  const row = rows.find(({ step }) => step === desk.step);
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
            <Tick
              label="Hide the machine’s marks until I have judged"
              checked={isBlind}
              onChange={setBlind}
            />
            <Tick label="Single keys" checked={hasKeys} onChange={setKeys} />
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
      <ResidentTruth checklist={checklist} state={state} />
      <Caution />
    </div>
  );
}

function Tick({
  label,
  checked,
  onChange,
}: {
  readonly label: string;
  readonly checked: boolean;
  readonly onChange: (checked: boolean) => void;
}) {
  return (
    <label>
      <input type="checkbox" checked={checked} onChange={({ target }) => onChange(target.checked)} />
      {label}
    </label>
  );
}
