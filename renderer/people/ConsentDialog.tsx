import { useEffect, useRef, useState } from 'react';
import type { Decision, Trainee } from '../../app/host/api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { CONSENT } from '../../app/people/consent.ts';
import { api } from '../api.ts';

/** A trainee to be asked, and what hears the answer: null where none was given. */
export interface ConsentAsked {
  readonly trainee: Trainee;
  readonly keptDays: number | null;
  /** The school to whose archive this computer sends; null for none. */
  readonly school: string | null;
  readonly onAnswer: (agreed: boolean | null) => void;
}

/** Asks a trainee whether sound may be kept, and sent to the school's archive. An answer is on disk before it is passed on. */
export function ConsentDialog({ asked }: { readonly asked: ConsentAsked }) {
  const { trainee, keptDays, school, onAnswer } = asked;
  const dialog = useRef<HTMLDialogElement>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => dialog.current?.showModal(), []);
  const decide = (decision: Decision): void =>
    void api.decide(trainee.id, decision).then(
      () => onAnswer(decision.agreed),
      (error: unknown) => setFailed(messageOf(error)),
    );
  return (
    <dialog ref={dialog} className="consent" aria-labelledby="consent" onClose={() => onAnswer(null)}>
      <h2 id="consent" tabIndex={-1} autoFocus>
        {trainee.name}, may your sound be kept?
      </h2>
      <dl>
        {CONSENT(keptDays, school).map(([question, answer]) => (
          <div key={question}>
            <dt>{question}</dt>
            <dd>{answer}</dd>
          </div>
        ))}
      </dl>
      {failed !== '' && <p role="alert">{failed}</p>}
      <div className="actions">
        {school === null ? (
          <button type="button" className="button main" onClick={() => decide({ agreed: true })}>
            Yes, keep the sound
          </button>
        ) : (
          <>
            <button type="button" className="button" onClick={() => decide({ agreed: true, sends: true })}>
              Yes, keep the sound and send it
            </button>
            <button type="button" className="button" onClick={() => decide({ agreed: true, sends: false })}>
              Yes, but only on this computer
            </button>
          </>
        )}
        <button type="button" className="button" onClick={() => decide({ agreed: false })}>
          No, rehearse without keeping it
        </button>
        <button type="button" className="button quiet" onClick={() => onAnswer(null)}>
          Not now
        </button>
      </div>
    </dialog>
  );
}
