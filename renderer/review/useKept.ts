import { useRef, useState } from 'react';
import { messageOf } from '../../app/faults/faults.ts';
import type { RehearsalEvent, ReviewEvent } from '../../app/marking/events.ts';

/** A journal with what is added to it here: shown at once, sent in its order, and held back while it cannot be kept. */
export interface KeptEvents {
  readonly events: readonly RehearsalEvent[];
  readonly add: (event: ReviewEvent) => void;
  /** Why the last ones are not kept yet; empty when all is. */
  readonly trouble: string;
  readonly tryAgain: () => void;
}

/** @param keep adds events to the journal; rejects with what was wrong */
export function useKept(
  journal: readonly RehearsalEvent[],
  keep: (events: readonly ReviewEvent[]) => Promise<void>,
): KeptEvents {
  const [added, setAdded] = useState<readonly ReviewEvent[]>([]);
  const [trouble, setTrouble] = useState('');
  const waiting = useRef<ReviewEvent[]>([]);
  const isSending = useRef(false);

  const send = async (): Promise<void> => {
    if (isSending.current) return;
    isSending.current = true;
    try {
      while (waiting.current.length > 0) {
        const some = [...waiting.current];
        await keep(some);
        waiting.current.splice(0, some.length);
      }
      setTrouble('');
    } catch (error) {
      setTrouble(messageOf(error));
    } finally {
      isSending.current = false;
    }
  };
  return {
    events: [...journal, ...added],
    add: (event) => {
      setAdded((now) => [...now, event]);
      waiting.current.push(event);
      void send();
    },
    trouble,
    tryAgain: () => void send(),
  };
}
