import type { RehearsalSummary } from '../../app/host/api.ts';
import { Heading } from '../parts/Heading.tsx';
import { minutes } from '../../app/marking/testClock.ts';
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

/** Every rehearsal kept on this machine, newest first. */
export function Past({
  rehearsals,
  onOpen,
  onBack,
}: {
  readonly rehearsals: readonly RehearsalSummary[];
  readonly onOpen: (id: string) => void;
  readonly onBack: () => void;
}) {
  return (
    <main className="page">
      <Heading>Past rehearsals</Heading>
      {rehearsals.length === 0 ? (
        <p>None yet.</p>
      ) : (
        <ul className="past">
          {rehearsals.map((each) => (
            <li key={each.id}>
              <button type="button" className="past-entry" onClick={() => onOpen(each.id)}>
                <span className="past-title">{each.title}</span>
                <span>
                  {localDate(each.startedAt)}, {minutes(each.seconds)} min
                </span>
                <span>{resultOf(each)}</span>
              </button>
            </li>
          ))}
        </ul>
      )}
      <div className="actions">
        <button type="button" className="button" onClick={onBack}>
          Back to the start
        </button>
      </div>
    </main>
  );
}
