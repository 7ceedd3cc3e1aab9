import type { RehearsalSummary } from '../../app/host/api.ts';

/** Which rehearsals are looked for; empty fields ask for nothing. */
export interface Wanted {
  /** Id of a skill. */
  readonly skill: string;
  /** First and last day, as "2026-03-09", in this machine's time. */
  readonly from: string;
  readonly to: string;
}

/** Whether a rehearsal is of a skill, alone or in a mock test. */
export const isOf = ({ skill, skills }: RehearsalSummary, id: string): boolean =>
  skill === id || skills.some((each) => each.skill === id);

/** Whether a rehearsal is one of those looked for. */
export const within =
  ({ skill, from, to }: Wanted) =>
  (rehearsal: RehearsalSummary): boolean => {
    const day = dayOf(rehearsal.startedAt);
    return (
      (skill === '' || isOf(rehearsal, skill)) && (from === '' || day >= from) && (to === '' || day <= to)
    );
  };

/** The local day of an ISO date, in the form date fields have. */
function dayOf(iso: string): string {
  const at = new Date(iso);
  const two = (n: number): string => String(n).padStart(2, '0');
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}
