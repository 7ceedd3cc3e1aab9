import { useEffect, useState } from 'react';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { reviewOf, type Review } from '../../app/review/review.ts';
import { api } from '../api.ts';
import { useKept, type KeptEvents } from '../review/useKept.ts';

/** Where measured values are kept: a record, and the index of the skill in it. */
export interface RecordedSkill {
  readonly id: string;
  readonly skill: number;
}

/** What was measured of a rehearsal's readings, and more of it. */
export interface MeasuredValues extends Pick<KeptEvents, 'trouble' | 'tryAgain'> {
  /** Whether what was measured before is there. */
  readonly isRead: boolean;
  readonly review: Review;
  readonly add: (step: string, value: number) => void;
}

/** Stands beside a value that was given without a name. */
const BY = 'the trainee or a partner';

/** The events of a record, null until they are there. Where they cannot be read, adding to it will say why. */
export function useJournal(id: string | null): readonly RehearsalEvent[] | null {
  const [journal, setJournal] = useState<readonly RehearsalEvent[] | null>(null);
  useEffect(() => {
    if (id === null) return;
    let isWanted = true;
    api.rehearsal(id).then(
      ({ events }) => isWanted && setJournal(events),
      () => isWanted && setJournal([]),
    );
    return () => {
      isWanted = false;
    };
  }, [id]);
  return id === null ? NOTHING : journal;
}

const NOTHING: readonly RehearsalEvent[] = [];

/** @param recorded null where nothing is kept of it: then values last as long as the page */
export function useMeasured(recorded: RecordedSkill | null): MeasuredValues {
  const journal = useJournal(recorded?.id ?? null);
  const skill = recorded?.skill ?? 0;
  const { events, add, trouble, tryAgain } = useKept(journal ?? NOTHING, async (some) => {
    if (recorded) await api.addReview(recorded.id, some);
  });
  return {
    isRead: journal !== null,
    review: reviewOf(events, skill),
    add: (step, value) =>
      add({
        ...{ type: 'measured', by: BY, madeAt: new Date().toISOString() },
        ...{ skill, step, value, byRehearser: true },
      }),
    trouble,
    tryAgain,
  };
}
