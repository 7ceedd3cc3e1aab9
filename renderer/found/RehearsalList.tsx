import { useRef, useState } from 'react';
import { Link } from 'wouter';
import type { RehearsalSummary } from '../../app/host/api.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { ADDRESS } from '../addresses.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { localDate } from '../words.ts';

const resultOf = ({ state, passed, heard, of, version, note }: RehearsalSummary): string => {
  const parts = [
    ...(state === 'interrupted' ? ['cut off'] : []),
    ...(state !== 'interrupted' && passed !== null ? [passed ? 'passed' : 'not passed'] : []),
    ...(of > 0 ? [`${heard} of ${of} steps heard`] : []),
    ...(version === null ? [] : [`version ${version}`]),
  ];
  return [parts.join('; '), note].filter((text) => text !== '').join('. ');
};

/** Rehearsals, each leading to what it came to, and deleted where that is wanted and said twice. */
export function RehearsalList({
  rehearsals,
  addressOf = ADDRESS.rehearsal,
}: {
  readonly rehearsals: readonly RehearsalSummary[];
  readonly addressOf?: (id: string) => string;
}) {
  const { trainees } = useKnown().people;
  const nameOf = (id: string | null): string => {
    const name = trainees.find((trainee) => trainee.id === id)?.name;
    return name === undefined ? '' : `${name}, `;
  };
  const list = useRef<HTMLUListElement>(null);
  return (
    <ul className="entries" ref={list} tabIndex={-1} aria-label="Rehearsals">
      {rehearsals.map((each) => (
        <li key={each.id} className="entry-row">
          <Link href={addressOf(each.id)} className="entry">
            <span className="entry-title">{each.title}</span>{' '}
            <span className="hint">
              {nameOf(each.trainee ?? null)}
              {localDate(each.startedAt)}, {minutes(each.seconds)} min
            </span>{' '}
            <span className="hint entry-result">{resultOf(each)}</span>
          </Link>
          <Delete rehearsal={each} onGone={() => list.current?.focus()} />
        </li>
      ))}
    </ul>
  );
}

/** Asks before it deletes. The focus stays where the eye is: with the question, its answer, and at last the list. */
function Delete({
  rehearsal: { id, title, startedAt },
  onGone,
}: {
  readonly rehearsal: RehearsalSummary;
  readonly onGone: () => void;
}) {
  const { refresh, fail } = useKnown();
  const [isAsked, ask] = useState(false);
  const wasAsked = useRef(false);
  const remove = (): void => void api.deleteRehearsal(id).then(refresh).then(onGone, fail);
  const about = `${title}, ${localDate(startedAt)}`;
  if (!isAsked)
    return (
      <button
        type="button"
        className="button quiet"
        aria-label={`Delete ${about}`}
        autoFocus={wasAsked.current}
        onClick={() => {
          wasAsked.current = true;
          ask(true);
        }}
      >
        Delete
      </button>
    );
  return (
    <span className="actions" role="group" aria-label={`Delete ${about}?`}>
      <button type="button" className="button" onClick={remove}>
        Delete its marks and sound for good
      </button>
      <button type="button" className="button quiet" autoFocus onClick={() => ask(false)}>
        Keep it
      </button>
    </span>
  );
}
