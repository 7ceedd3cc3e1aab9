import { useState } from 'react';
import type { Finding } from '../../app/host/api.ts';
import { RehearsalList } from './RehearsalList.tsx';
import { useFound } from './useFound.ts';

/** Rehearsals that are shown at first, and more each time that is asked for: a list of thousands is slow to draw and to read. */
const SHOWN = 30;

/** The rehearsals that are looked for, the newest of them, and more when that is asked for. */
export function FoundRehearsals({
  finding,
  addressOf,
}: {
  /** The same object while it asks for the same. */
  readonly finding: Finding;
  readonly addressOf?: (id: string) => string;
}) {
  const [grown, grow] = useState({ finding, most: SHOWN });
  const most = grown.finding === finding ? grown.most : SHOWN;
  const answer = useFound(finding, most);
  if (!answer) return <p>Opening…</p>;
  const { rehearsals, found, of } = answer;
  const rest = found - rehearsals.length;
  return (
    <>
      <p role="status">
        {found} of {of} rehearsals{rest > 0 && `; the newest ${rehearsals.length} are shown`}.
      </p>
      <RehearsalList rehearsals={rehearsals} {...(addressOf && { addressOf })} />
      {rest > 0 && (
        <button type="button" className="button" onClick={() => grow({ finding, most: most + SHOWN })}>
          Show {Math.min(rest, SHOWN)} more
        </button>
      )}
    </>
  );
}
