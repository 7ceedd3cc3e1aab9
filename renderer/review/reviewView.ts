import type { Outcome } from '../../app/marking/assessment.ts';
import type { Verdict } from '../../app/review/review.ts';
import type { Row } from '../../app/review/sideBySide.ts';

/** What a reviewer is shown: words for verdicts, and what is hidden until she has judged. */

export const VERDICTS: Readonly<Record<Verdict, string>> = { yes: 'yes', no: 'no', unsure: 'cannot tell' };

/** The mark whose shape a verdict is drawn with. */
export const VERDICT_SHAPES: Readonly<Record<Verdict, Outcome>> = {
  yes: 'heard',
  no: 'not heard',
  unsure: 'unsure',
};

/** The rows as they are shown: in a blind review without the machine's words, for as long as the person has not judged. */
export const shownRows = (rows: readonly Row[], blind: boolean): Row[] =>
  rows.map((row) =>
    isHidden(row, blind) && row.mark ? { ...row, mark: { ...row.mark, evidence: null } } : row,
  );

/** Whether a row's mark is hidden. That a step needs eyes is no secret. */
export const isHidden = ({ mark, verdict }: Row, blind: boolean): boolean =>
  blind && verdict === null && mark?.outcome !== 'needs eyes';
