import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { localDay } from '../words.ts';

/** Tells once of rehearsals that were deleted for their age. */
export function DeletedNotice() {
  const { people, refresh, fail } = useKnown();
  const { deleted } = people;
  if (!deleted) return null;
  return (
    <div className="notice" role="status">
      <p>
        {deleted.count} {deleted.count === 1 ? 'rehearsal was' : 'rehearsals were'} older than the school
        keeps them, and deleted on {localDay(deleted.at)}.
      </p>
      <button type="button" className="button" onClick={() => void api.told().then(refresh, fail)}>
        I have read it
      </button>
    </div>
  );
}
