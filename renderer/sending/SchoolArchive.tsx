import { useCallback, useEffect, useState } from 'react';
import type { SendingStanding } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { localDate } from '../words.ts';

/** Sending to the school's archive: set up, what is sent and when, what waits, and the way out. */
export function SchoolArchive() {
  const { people } = useKnown();
  return (
    <section className="panel" aria-labelledby="school-archive">
      <h2 id="school-archive">The school’s archive</h2>
      {people.isInstructor ? <ForInstructor /> : <ForTrainee school={people.school} />}
    </section>
  );
}

function ForTrainee({ school }: { readonly school: string | null }) {
  return (
    <>
      <p>
        {school === null
          ? 'None is set: nothing is sent anywhere.'
          : `Rehearsals of who agreed go to the archive of ${school}; all others stay on this computer.`}
      </p>
      <p className="hint">The instructor sets it up.</p>
    </>
  );
}

function ForInstructor() {
  const { refresh, fail } = useKnown();
  const [standing, setStanding] = useState<SendingStanding | null | undefined>(undefined);
  const [said, setSaid] = useState('');
  const look = useCallback(() => api.sending().then(setStanding, fail), [fail]);
  useEffect(() => void look(), [look]);
  /** Does something, says how it went, and looks again. What the archive refuses is no trouble of this program. */
  const after = (work: Promise<void>, done: string): void => {
    setSaid('One moment…');
    void work
      .then(
        () => setSaid(done),
        (error: Error) => setSaid(error.message),
      )
      .then(() => Promise.all([look(), refresh()]));
  };
  return (
    <>
      {standing === null && (
        <Enrol onEnrol={(address, code) => after(api.enrolStation(address, code), 'Enrolled.')} />
      )}
      {standing && <Standing standing={standing} after={after} />}
      <p role="status">{said}</p>
    </>
  );
}

const WHAT_IS_SENT =
  'Sent are the sound, the words, the marks and reviews of a rehearsal, with the trainee’s name and class, a minute after it is over. Only of trainees who agreed to that, from then on. What is deleted in this program is deleted there, and the other way round.';

function Enrol({ onEnrol }: { readonly onEnrol: (address: string, code: string) => void }) {
  const [address, setAddress] = useState('');
  const [code, setCode] = useState('');
  const enrol = (event: React.FormEvent): void => {
    event.preventDefault();
    setCode('');
    onEnrol(address, code);
  };
  return (
    <>
      <p>None is set: nothing is sent anywhere.</p>
      <p className="hint">{WHAT_IS_SENT}</p>
      <form className="who-form" onSubmit={enrol}>
        <label className="field">
          <span>Address of the archive</span>
          <input
            required
            inputMode="url"
            autoComplete="off"
            placeholder="https://…"
            value={address}
            onChange={({ target }) => setAddress(target.value)}
          />
        </label>
        <label className="field">
          <span>Code, which works once</span>
          <input required autoComplete="off" value={code} onChange={({ target }) => setCode(target.value)} />
        </label>
        <button type="submit" className="button">
          Send to this archive
        </button>
      </form>
    </>
  );
}

interface StandingProps {
  readonly standing: SendingStanding;
  readonly after: (work: Promise<void>, done: string) => void;
}

function Standing({ standing, after }: StandingProps) {
  const { school, address, station, isOn, waiting, staying, sent, lastSentAt, refused } = standing;
  return (
    <>
      <p>
        <strong>{school}</strong>, {address}. This computer is “{station}” there.
      </p>
      <p>{troubleOf(standing)}</p>
      <ul>
        <li>Waiting: {waiting}</li>
        <li>
          Sent: {sent}
          {lastSentAt !== null && `, last ${localDate(lastSentAt)}`}
        </li>
        <li>Staying here: {staying}, of trainees who did not agree, or of nobody in particular</li>
        {refused.map(({ record, at, why }) => (
          <li key={record}>
            Refused: {record}, {localDate(at)}: {why}
          </li>
        ))}
      </ul>
      <div className="actions">
        {isOn && (
          <button type="button" className="button" onClick={() => after(api.sendNow(), 'Sent.')}>
            Send now{refused.length > 0 && ', also what was refused'}
          </button>
        )}
        <button
          type="button"
          className="button quiet"
          onClick={() => after(api.turnSending(!isOn), isOn ? 'Turned off.' : 'Turned on.')}
        >
          {isOn ? 'Turn sending off' : 'Turn sending on'}
        </button>
        <button
          type="button"
          className="button quiet"
          onClick={() =>
            after(api.leaveArchive(), 'Nothing is sent any more. What the archive has stays there.')
          }
        >
          Leave this archive
        </button>
      </div>
      <p className="hint">{WHAT_IS_SENT}</p>
    </>
  );
}

/** How sending goes, in a sentence. */
export function troubleOf({ isOn, revoked, trouble, nextAt }: SendingStanding): string {
  if (!isOn) return 'Sending is turned off.';
  if (revoked !== null)
    return `The archive does not take this computer’s key any more: ${revoked} Leave it, then enrol again with a new code.`;
  if (trouble !== null)
    return `Nothing could be sent: ${trouble} Nothing is lost${nextAt === null ? '' : `; the next try is at ${localDate(nextAt)}`}.`;
  return 'Sending is turned on.';
}
