import { Link } from 'wouter';
import type { RehearsalSummary } from '../../app/host/api.ts';
import { minutes } from '../../app/marking/testClock.ts';
import { ADDRESS } from '../addresses.ts';
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

/** Rehearsals, each leading to what it came to. */
export function RehearsalList({ rehearsals }: { readonly rehearsals: readonly RehearsalSummary[] }) {
  return (
    <ul className="entries">
      {rehearsals.map((each) => (
        <li key={each.id}>
          <Link href={ADDRESS.rehearsal(each.id)} className="entry">
            <span className="entry-title">{each.title}</span>{' '}
            <span>
              {localDate(each.startedAt)}, {minutes(each.seconds)} min
            </span>{' '}
            <span className="hint">{resultOf(each)}</span>
          </Link>
        </li>
      ))}
    </ul>
  );
}
