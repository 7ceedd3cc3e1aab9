import { KEYS, type Action } from '../../app/review/keys.ts';
import type { Review } from '../../app/review/review.ts';
import { needingEyes, openRows, personsResult, type Row } from '../../app/review/sideBySide.ts';
import type { Rules } from '../../app/skills/skill.ts';
import { localDate } from '../words.ts';

/** What is still open, what the person's verdicts come to, and the signature under them. */
export function SignOff({
  rows,
  rules,
  review: { signedOff },
  told,
  onAct,
}: {
  readonly rows: readonly Row[];
  readonly rules: Rules;
  readonly review: Review;
  /** What was last said to the reviewer. */
  readonly told: string;
  readonly onAct: (action: Action) => void;
}) {
  const open = openRows(rows).length;
  const eyes = needingEyes(rows).length;
  const { passed, yes, of, criticalMissed } = personsResult(rows, rules);
  const missed = criticalMissed.length > 0 ? `, ${criticalMissed.length} of them critical and not given` : '';
  return (
    <section aria-label="Sign off">
      <h2>Sign off</h2>
      <p>
        {open > 0
          ? `${open} of ${of} steps have no verdict yet${eyes > 0 ? `; ${eyes} of them need eyes` : ''}.`
          : `Every step has a verdict: ${yes} of ${of} yes${missed}.`}
        {passed !== null &&
          ` By the person’s verdicts and the rules in force: ${passed ? 'passed' : 'not passed'}, for this practice run.`}
      </p>
      {signedOff ? (
        <p>
          Signed off by {signedOff.by} on {localDate(signedOff.madeAt)}. A change takes the signature back.
        </p>
      ) : (
        <button type="button" className="button main" disabled={open > 0} onClick={() => onAct('sign off')}>
          Sign off <kbd>{KEYS['sign off'].shown}</kbd>
        </button>
      )}
      <p className="hint" aria-hidden="true">
        {told}
      </p>
    </section>
  );
}
