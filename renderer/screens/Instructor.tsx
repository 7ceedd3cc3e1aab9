import { useState } from 'react';
import { Link } from 'wouter';
import { ADDRESS } from '../addresses.ts';
import { useKnown } from '../known.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { RehearsalList } from '../parts/RehearsalList.tsx';
import { DeletedNotice } from '../people/DeletedNotice.tsx';
import { Passphrase } from '../people/Passphrase.tsx';
import { PeopleList } from '../people/PeopleList.tsx';
import { Bundles } from '../instructor/Bundles.tsx';
import { isOf, within, type Wanted } from '../instructor/within.ts';

/** Every rehearsal on this machine, for who goes over it with the trainee: found by skill and day. */
export function Instructor() {
  const { library, allRehearsals: rehearsals } = useKnown();
  const [wanted, setWanted] = useState<Wanted>({ skill: '', from: '', to: '' });
  const found = rehearsals.filter(within(wanted));
  const skills = library.skills.filter(({ id }) => rehearsals.some((each) => isOf(each, id)));
  return (
    <main className="page">
      <Heading>Instructor</Heading>
      <p>Open a rehearsal to hear it, to confirm or change its marks, and to sign it off.</p>
      <p>
        <Link href={ADDRESS.agreement}>How far the machine’s marks agree with yours</Link>
      </p>
      <div className="filters" role="search">
        <label className="field">
          <span>Skill</span>
          <select
            value={wanted.skill}
            onChange={({ target }) => setWanted({ ...wanted, skill: target.value })}
          >
            <option value="">Every skill</option>
            {skills.map(({ id, title }) => (
              <option key={id} value={id}>
                {title}
              </option>
            ))}
          </select>
        </label>
        {(['from', 'to'] as const).map((end) => (
          <label key={end} className="field">
            <span>{end === 'from' ? 'From' : 'To'}</span>
            <input
              type="date"
              value={wanted[end]}
              onChange={({ target }) => setWanted({ ...wanted, [end]: target.value })}
            />
          </label>
        ))}
      </div>
      <p role="status">
        {found.length} of {rehearsals.length} rehearsals.
      </p>
      <DeletedNotice />
      <RehearsalList rehearsals={found} addressOf={ADDRESS.review} />
      <Bundles />
      <PeopleList />
      <Passphrase />
      <Caution />
    </main>
  );
}
