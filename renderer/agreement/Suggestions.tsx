import { useState } from 'react';
import { useLocation } from 'wouter';
import { messageOf } from '../../app/faults/faults.ts';
import type { AgreementReply } from '../../app/host/api.ts';
import { ADDRESS } from '../addresses.ts';
import { api } from '../api.ts';
import { keepDraft, keptDraft } from '../editing/drafts.ts';
import { asExample, withExample } from './example.ts';

type Suggestion = AgreementReply['agreement']['suggestions'][number];

/** What trainees said for steps that the machine missed, each to be taken into the skill's file after a person's yes. */
export function Suggestions({
  suggestions,
  textOf,
}: {
  readonly suggestions: readonly Suggestion[];
  /** The skill and the step in words. */
  readonly textOf: (skill: string, step: string) => string;
}) {
  const [, navigate] = useLocation();
  const [asked, ask] = useState<Suggestion | null>(null);
  const [refused, setRefused] = useState('');
  const add = async ({ skill, step, said }: Suggestion): Promise<void> => {
    try {
      const source = withExample(keptDraft(skill) ?? (await api.skillSource(skill)), step, said);
      if (source === null) return setRefused(`The file of "${skill}" has no step "${step}" any more.`);
      keepDraft(skill, source);
      navigate(ADDRESS.editSkill(skill));
    } catch (error) {
      setRefused(messageOf(error));
    }
  };
  return (
    <section aria-labelledby="said">
      <h2 id="said">Said for steps that were missed</h2>
      <p className="hint">
        What trainees said, as it was heard, where a person said yes and the machine did not. An example that
        is too loose credits what was not said: try it in the editor.
      </p>
      {suggestions.length === 0 && <p>Nothing so far.</p>}
      {refused !== '' && <p role="alert">{refused}</p>}
      <ul className="suggestions">
        {suggestions.map((each) => (
          <li key={`${each.skill} ${each.step} ${each.said}`} className="panel">
            <p>
              <q>{each.said}</q> for {textOf(each.skill, each.step)}
              {each.times > 1 && ` (${each.times} times)`}
            </p>
            {asked === each ? (
              <div role="group" aria-label="Make it an example?">
                <p>
                  “{asExample(each.said)}” would count as this step. It is not saved before you save it in the
                  editor.
                </p>
                <div className="actions">
                  <button type="button" className="button main" autoFocus onClick={() => void add(each)}>
                    Yes, open the editor with it
                  </button>
                  <button type="button" className="button" onClick={() => ask(null)}>
                    No
                  </button>
                </div>
              </div>
            ) : (
              <button
                type="button"
                className="button"
                aria-label={`Make it an example: ${each.said}`}
                onClick={() => ask(each)}
              >
                Make it an example
              </button>
            )}
          </li>
        ))}
      </ul>
    </section>
  );
}
