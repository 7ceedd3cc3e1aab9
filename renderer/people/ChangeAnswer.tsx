import type { Decision, Trainee } from '../../app/host/api.ts';
import { decisionOf } from '../../app/people/consent.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';
import { localDay } from '../words.ts';

/** What a person has decided about sound, in words. */
export function consentOf(trainee: Trainee): string {
  const agreed = decisionOf(trainee);
  if (!trainee.consent || agreed === null) return 'not asked yet whether sound may be kept';
  const { at, sends } = trainee.consent;
  const sent = agreed && sends ? ' and sent to the school’s archive' : '';
  return `${agreed ? 'sound may be kept' : 'sound is not kept'}${sent}, decided ${localDay(at)}`;
}

/** Changes what a person has decided about sound, from the next rehearsal on. Nothing is shown before the first decision. */
export function ChangeAnswer({ trainee }: { readonly trainee: Trainee }) {
  const agreed = decisionOf(trainee);
  if (agreed === null) return null;
  const sends = agreed && trainee.consent?.sends === true;
  return (
    <>
      {sends && (
        <Change trainee={trainee} action="Send nothing more" decision={{ agreed: true, sends: false }} />
      )}
      <Change
        trainee={trainee}
        action={agreed ? 'Keep no more sound' : 'Let sound be kept'}
        decision={{ agreed: !agreed }}
      />
    </>
  );
}

interface ChangeProps {
  readonly trainee: Trainee;
  readonly action: string;
  readonly decision: Decision;
}

function Change({ trainee, action, decision }: ChangeProps) {
  const { refresh, fail } = useKnown();
  return (
    <button
      type="button"
      className="button quiet"
      aria-label={`${action}: ${trainee.name}`}
      onClick={() => void api.decide(trainee.id, decision).then(refresh, fail)}
    >
      {action}
    </button>
  );
}
