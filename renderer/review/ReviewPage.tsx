import { useEffect, useMemo, useState } from 'react';
import { Link } from 'wouter';
import { messageOf } from '../../app/faults/faults.ts';
import type { Library, Rehearsal } from '../../app/host/api.ts';
import { reviewOf } from '../../app/review/review.ts';
import type { Skill } from '../../app/skills/skill.ts';
import { ADDRESS } from '../addresses.ts';
import { api, reportOf } from '../api.ts';
import { Heading } from '../parts/Heading.tsx';
import { ReportActions } from '../report/ReportActions.tsx';
import { localDate } from '../words.ts';
import { loadPeaks, type Peaks } from './sound/peaks.ts';
import { reviewablesOf, versionsOf } from './reviewables.ts';
import { ReviewScreen, type Said } from './ReviewScreen.tsx';
import { useKept } from './useKept.ts';

/** The review of one record, by its id. */
export function ReviewPage({ id }: { readonly id: string }) {
  const [opened, setOpened] = useState<Opened | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    setOpened(null);
    setFailed('');
    openRecord(id).then(setOpened, (error: unknown) => setFailed(messageOf(error)));
  }, [id]);
  return (
    <main className="page page-review">
      <p>
        <Link href={ADDRESS.instructor}>All rehearsals</Link>
      </p>
      {failed !== '' && <p role="alert">{failed}</p>}
      {!opened && failed === '' && <p>Opening…</p>}
      {opened && <Record key={id} id={id} opened={opened} />}
    </main>
  );
}

interface Opened {
  readonly rehearsal: Rehearsal;
  readonly library: Library;
  /** Of a rehearsal of one skill, the newest first. */
  readonly versions: readonly Skill[];
}

async function openRecord(id: string): Promise<Opened> {
  const [rehearsal, library] = await Promise.all([api.rehearsal(id), api.library()]);
  const { skill } = rehearsal.header;
  const now = library.skills.find((each) => each.id === skill);
  const kept = await api.skillVersions(skill).catch(() => []);
  const versions = versionsOf(now, kept);
  // What cannot be marked is said here, before anything is drawn.
  reviewablesOf(rehearsal, library, versions[0] ?? null);
  return { rehearsal, library, versions };
}

function Record({
  id,
  opened: { rehearsal, library, versions },
}: {
  readonly id: string;
  readonly opened: Opened;
}) {
  const { header, samples } = rehearsal;
  const [version, setVersion] = useState(header.version ?? versions[0]?.version ?? 1);
  const [at, setAt] = useState(0);
  const [by, setBy] = useReviewer();
  const kept = useKept(rehearsal.events, (events) => api.addReview(id, events));
  const source = samples > 0 ? api.soundOf(id) : null;
  const peaks = usePeaks(source);
  const attempts = useMemo(
    () =>
      reviewablesOf(rehearsal, library, versions.find((v) => v.version === version) ?? versions[0] ?? null),
    [rehearsal, library, versions, version],
  );
  const attempt = attempts[at];
  const onSaid = (said: Said): void => {
    const madeAt = new Date().toISOString();
    if (by.trim() !== '') kept.add({ ...said, by: by.trim(), madeAt });
  };
  if (!attempt) return <p role="alert">Its skill is no longer among the skills of this program.</p>;
  return (
    <>
      <Heading>Review: {attempt.checklist.skill.title}</Heading>
      <div className="review-options">
        <span>{localDate(header.startedAt)}</span>
        <label>
          Who reviews{' '}
          <input
            value={by}
            maxLength={200}
            onChange={({ target }) => setBy(target.value)}
            onKeyDown={({ key, currentTarget }) => key === 'Enter' && currentTarget.blur()}
          />
        </label>
        {attempts.length > 1 && (
          <Choice
            label="Skill"
            value={at}
            options={attempts.map(({ checklist }, i) => [i, checklist.skill.title])}
            onChange={setAt}
          />
        )}
        {attempts.length === 1 && versions.length > 1 && (
          <Choice
            label="Machine’s marks under version"
            value={version}
            options={versions.map((each) => [each.version, String(each.version)])}
            onChange={setVersion}
          />
        )}
      </div>
      {by.trim() === '' && <p className="notice">Say who reviews: a name stands beside every verdict.</p>}
      {kept.trouble !== '' && (
        <p className="notice" role="alert">
          Not kept yet: {kept.trouble}{' '}
          <button type="button" className="button" onClick={kept.tryAgain}>
            Try again
          </button>
        </p>
      )}
      {by.trim() !== '' && (
        <ReviewScreen
          key={`${attempt.skill} ${version}`}
          attempt={attempt}
          review={reviewOf(kept.events, attempt.skill)}
          sound={source}
          peaks={peaks}
          onSaid={onSaid}
        />
      )}
      <ReportActions addressOf={reportOf(id)} name={`report-${id}`} />
    </>
  );
}

function Choice({
  label,
  value,
  options,
  onChange,
}: {
  readonly label: string;
  readonly value: number;
  readonly options: readonly (readonly [value: number, text: string])[];
  readonly onChange: (value: number) => void;
}) {
  return (
    <label>
      {label}{' '}
      <select value={value} onChange={({ target }) => onChange(Number(target.value))}>
        {options.map(([each, text]) => (
          <option key={each} value={each}>
            {text}
          </option>
        ))}
      </select>
    </label>
  );
}

const REVIEWER = 'sinkside.reviewer';

/** Who reviews, remembered on this machine. */
function useReviewer(): [string, (by: string) => void] {
  const [by, setBy] = useState(() => localStorage.getItem(REVIEWER) ?? '');
  useEffect(() => localStorage.setItem(REVIEWER, by), [by]);
  return [by, setBy];
}

/** The outline of a recording; null until it is read. Without it everything else can still be done. */
function usePeaks(source: string | null): Peaks | null {
  const [peaks, setPeaks] = useState<Peaks | null>(null);
  useEffect(() => {
    setPeaks(null);
    if (source === null) return;
    const stop = new AbortController();
    loadPeaks(source, stop.signal).then(setPeaks, () => undefined);
    return () => stop.abort();
  }, [source]);
  return peaks;
}
