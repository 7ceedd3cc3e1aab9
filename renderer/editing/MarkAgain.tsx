import { useEffect, useState } from 'react';
import { knownVariants, makeChecklist, type Checklist } from '../../app/skills/checklist.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { remark, type Remarked } from '../../app/authoring/remark.ts';
import type { Lexicon, Skill } from '../../app/skills/skill.ts';
import { api } from '../api.ts';

/** Marks a rehearsal again under another version of its skill, and shows what comes out otherwise. */
export function MarkAgain({
  id,
  checklist,
  lexicon,
  current,
}: {
  /** Id of the rehearsal. */
  readonly id: string;
  /** What it was marked by. */
  readonly checklist: Checklist;
  readonly lexicon: Lexicon;
  /** The skill as it is now; absent where it is no longer there. */
  readonly current: Skill | undefined;
}) {
  const { skill, rules, variants } = checklist;
  const [kept, setKept] = useState<readonly Skill[]>([]);
  const [again, setAgain] = useState<{ version: number; remarked: Remarked } | null>(null);
  const [failed, setFailed] = useState('');
  useEffect(() => {
    api.skillVersions(skill.id).then(setKept, (error: unknown) => setFailed(messageOf(error)));
  }, [skill.id]);

  const others = [...(current ? [current] : []), ...kept].filter(
    ({ version }, i, all) =>
      version !== skill.version && all.findIndex((other) => other.version === version) === i,
  );
  const mark = async (other: Skill): Promise<void> => {
    try {
      const { events } = await api.rehearsal(id);
      const to = makeChecklist(other, lexicon, rules, knownVariants(other, variants));
      setAgain({ version: other.version, remarked: remark(checklist, to, events) });
      setFailed('');
    } catch (error) {
      setFailed(messageOf(error));
    }
  };

  if (others.length === 0 && failed === '') return null;
  return (
    <section aria-label="Other versions of the skill" className="again">
      <h2>Other versions</h2>
      <div className="actions">
        {others.map((other) => (
          <button key={other.version} type="button" className="button" onClick={() => void mark(other)}>
            Mark again under version {other.version}
          </button>
        ))}
      </div>
      <div aria-live="polite">
        {failed !== '' && <p>{failed}</p>}
        {again && <Differences version={again.version} was={skill.version} remarked={again.remarked} />}
      </div>
    </section>
  );
}

/** What two versions mark otherwise. */
function Differences({
  version,
  was,
  remarked: { before, after, differences },
}: {
  readonly version: number;
  readonly was: number;
  readonly remarked: Remarked;
}) {
  const passed = (yes: boolean): string => (yes ? 'passed' : 'not passed');
  return (
    <>
      <p>
        Version {was}: {before.heard} of {before.of} steps heard, {passed(before.passed)}. Version {version}:{' '}
        {after.heard} of {after.of}, {passed(after.passed)}. The record stays as it is.
      </p>
      {differences.length === 0 ? (
        <p>Every step is marked alike.</p>
      ) : (
        <table className="differences">
          <thead>
            <tr>
              <th scope="col">Step</th>
              <th scope="col">Version {was}</th>
              <th scope="col">Version {version}</th>
            </tr>
          </thead>
          <tbody>
            {differences.map(({ step, text, critical, before: one, after: other, note }) => (
              <tr key={step}>
                <th scope="row">
                  {text} {critical && <span className="tag">critical</span>}
                </th>
                <td>{one ?? 'no such step'}</td>
                <td>
                  {other ?? 'no such step'} {note !== '' && <span className="hint">{note}</span>}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}
