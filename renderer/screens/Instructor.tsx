import { useMemo } from 'react';
import { Link, useLocation } from 'wouter';
import { ADDRESS } from '../addresses.ts';
import { Filters } from '../found/Filters.tsx';
import { FoundRehearsals } from '../found/FoundRehearsals.tsx';
import { asText, findingOf, wantedIn, type Wanted } from '../found/wanted.ts';
import { Bundles } from '../instructor/Bundles.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { DeletedNotice } from '../people/DeletedNotice.tsx';
import { Passphrase } from '../people/Passphrase.tsx';
import { PeopleList } from '../people/PeopleList.tsx';

/** Every rehearsal on this machine, for who goes over it with the trainee: found by skill, class and day. */
export function Instructor({ wanted }: { readonly wanted: Wanted }) {
  const [, navigate] = useLocation();
  const text = asText(wanted);
  const finding = useMemo(() => findingOf(wantedIn(text)), [text]);
  return (
    <main className="page">
      <Heading>Instructor</Heading>
      <p>Open a rehearsal to hear it, to confirm or change its marks, and to sign it off.</p>
      <p>
        <Link href={ADDRESS.agreement}>How far the machine’s marks agree with yours</Link>
      </p>
      <Filters
        wanted={wanted}
        everySkill="Every skill"
        onChange={(next) => navigate(ADDRESS.instructorsList(next), { replace: true })}
      />
      <DeletedNotice />
      <FoundRehearsals finding={finding} addressOf={ADDRESS.review} />
      <Bundles />
      <PeopleList inClass={wanted.class} />
      <Passphrase />
      <Caution />
    </main>
  );
}
