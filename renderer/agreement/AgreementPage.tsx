import { useEffect, useState } from 'react';
import { Link } from 'wouter';
import { messageOf } from '../../app/faults/faults.ts';
import type { AgreementReply } from '../../app/host/api.ts';
import { ADDRESS } from '../addresses.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { Caution } from '../parts/Caution.tsx';
import { Heading } from '../parts/Heading.tsx';
import { percent } from '../words.ts';
import '../styles/screens/agreement.css';
import '../styles/screens/progress.css';
import { Suggestions } from './Suggestions.tsx';

type Agreement = AgreementReply['agreement'];
type Tally = Agreement['all'];

/** Steps to look at first that are listed. */
const LISTED = 10;

/** How far the machine's marks agree with those of the people who reviewed. */
export function AgreementPage() {
  const [reply, setReply] = useState<AgreementReply | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    api.agreement().then(setReply, (error: unknown) => setFailed(messageOf(error)));
  }, []);
  return (
    <main className="page">
      <Heading>Agreement with the machine</Heading>
      {failed !== '' && <p role="alert">{failed}</p>}
      {failed === '' && !reply && <p>Opening…</p>}
      {reply && <Found {...reply} />}
      <Caution />
    </main>
  );
}

function Found({ agreement, leftOut }: AgreementReply) {
  const { library } = useKnown();
  const { attempts, all, blind, suggestions, method } = agreement;
  const titleOf = (skill: string): string => library.skills.find(({ id }) => id === skill)?.title ?? skill;
  const textOf = (skill: string, step: string): string => {
    const steps = library.skills.find(({ id }) => id === skill)?.steps;
    return `${titleOf(skill)}: ${steps?.find(({ id }) => id === step)?.text ?? step}`;
  };
  if (attempts === 0)
    return (
      <p>
        No rehearsal was reviewed yet. <Link href={ADDRESS.instructor}>Open one and judge its steps.</Link>
      </p>
    );
  return (
    <>
      <p>
        {attempts === 1 ? '1 rehearsal' : `${attempts} rehearsals`} reviewed, {all.judged} steps judged by
        machine and person; {blind} of them with the machine’s mark hidden until then.
      </p>
      <Tallies agreement={agreement} titleOf={titleOf} />
      <FirstSteps steps={agreement.byStep} textOf={textOf} />
      <Suggestions suggestions={suggestions} textOf={textOf} />
      <details className="method">
        <summary>How this is computed</summary>
        <p>{method}</p>
      </details>
      {leftOut.map((reason) => (
        <p key={reason} className="hint">
          Left out: {reason}
        </p>
      ))}
    </>
  );
}

function Tallies({
  agreement: { all, critical, bySkill, byEngine },
  titleOf,
}: {
  readonly agreement: Agreement;
  readonly titleOf: (skill: string) => string;
}) {
  const rows: readonly (readonly [name: string, tally: Tally])[] = [
    ['All steps', all],
    ['Critical steps', critical],
    ...bySkill.map((each) => [`${titleOf(each.skill)}, version ${each.version}`, each] as const),
    ...byEngine.map((each) => [`Heard by ${each.engine}`, each] as const),
  ];
  return (
    <div className="agreement" role="region" aria-label="Agreement" tabIndex={0}>
      <table>
        <thead>
          <tr>
            {['', 'Judged', 'Agree', 'Kappa', 'False credits', 'Misses', 'of them asked'].map((name) => (
              <th key={name} scope="col">
                {name || <span className="visually-hidden">Which steps</span>}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map(([name, tally]) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              <td>{tally.judged}</td>
              <td>{tally.observed === null ? '–' : percent(tally.observed)}</td>
              <td>{kappaSays(tally)}</td>
              <td>{tally.falseCredits}</td>
              <td>{tally.misses}</td>
              <td>{tally.asked}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

function kappaSays({ kappa, interval, why }: Tally): string {
  if (kappa === null) return why;
  const value = kappa.toFixed(2);
  return interval ? `${value} (95 %: ${interval.map((end) => end.toFixed(2)).join(' to ')})` : value;
}

/** The steps on which the two differ most: false credits first. */
function FirstSteps({
  steps,
  textOf,
}: {
  readonly steps: Agreement['byStep'];
  readonly textOf: (skill: string, step: string) => string;
}) {
  const faulty = steps.filter(({ falseCredits, misses }) => falseCredits + misses > 0).slice(0, LISTED);
  return (
    <section aria-labelledby="first">
      <h2 id="first">Steps to look at first</h2>
      {faulty.length === 0 && <p>Machine and person agree on every step.</p>}
      <ul className="weakest">
        {faulty.map(({ skill, step, critical, falseCredits, misses, asked, judged }) => (
          <li key={`${skill} ${step}`}>
            {textOf(skill, step)}
            {critical && ' (critical)'}: of {judged} judged,{' '}
            {[
              ...(falseCredits > 0 ? [`credited falsely: ${falseCredits}`] : []),
              ...(misses > 0 ? [`missed: ${misses} (asked about: ${asked})`] : []),
            ].join(', ')}
          </li>
        ))}
      </ul>
    </section>
  );
}
