import { useEffect, useRef, useState } from 'react';
import type { CheckedSkill } from '../../app/host/api.ts';
import { messageOf } from '../../app/faults/faults.ts';
import { api } from '../api.ts';

/** Milliseconds without a key after which the text is checked. */
const AFTER = 400;

/** What the host found, and the text it found it in. */
export interface Checked extends CheckedSkill {
  readonly of: string;
}

/** What the host makes of the text and the sentence, once nothing has been written for a moment. */
export function useChecked(
  source: string,
  phrase: string,
): { readonly checked: Checked | null; readonly failed: string } {
  const [checked, setChecked] = useState<Checked | null>(null);
  const [failed, setFailed] = useState('');
  const last = useRef(Promise.resolve());
  useEffect(() => {
    const stop = new AbortController();
    const check = async (): Promise<void> => {
      if (stop.signal.aborted) return;
      try {
        const found = await api.checkSkill(source, phrase);
        if (stop.signal.aborted) return;
        setChecked({ ...found, of: source });
        setFailed('');
      } catch (error) {
        if (!stop.signal.aborted) setFailed(messageOf(error));
      }
    };
    // One at a time: a long skill keeps the host busy for over a second, and it would finish what nobody waits for.
    const timer = setTimeout(() => (last.current = last.current.then(check)), AFTER);
    return () => {
      stop.abort();
      clearTimeout(timer);
    };
  }, [source, phrase]);
  return { checked, failed };
}
