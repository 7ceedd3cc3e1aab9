import type { Trainee } from '../../app/host/api.ts';
import { decisionOf } from '../../app/people/consent.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { localDay } from '../words.ts';

/** What a person has decided about sound, in words. */
export function consentOf(trainee: Trainee): string {
  const agreed = decisionOf(trainee);
  if (!trainee.consent || agreed === null) return 'not asked yet whether sound may be kept';
  return `${agreed ? 'sound may be kept' : 'sound is not kept'}, decided ${localDay(trainee.consent.at)}`;
}

/** Changes what a person has decided about sound, from the next rehearsal on. Nothing is shown before the first decision. */
export function ChangeAnswer({ trainee }: { readonly trainee: Trainee }) {
  const { refresh, fail } = useKnown();
  const agreed = decisionOf(trainee);
  if (agreed === null) return null;
  const action = agreed ? 'Keep no more sound' : 'Let sound be kept';
  return (
    <button
      type="button"
      className="button quiet"
      aria-label={`${action}: ${trainee.name}`}
      onClick={() => void api.decide(trainee.id, !agreed).then(refresh, fail)}
    >
      {action}
    </button>
  );
}
