import { useEffect, useState } from 'react';
import { messageOf } from '../../app/faults/faults.ts';

/** A reply of the archive as far as it is there: asked for again when `key` changes. */
export function useReply<T>(ask: () => Promise<T>, key: string): { reply: T | null; failed: string } {
  const [said, setSaid] = useState<{ key: string; reply: T | null; failed: string } | null>(null);
  useEffect(() => {
    let isWanted = true;
    ask().then(
      (reply) => isWanted && setSaid({ key, reply, failed: '' }),
      (error: unknown) => isWanted && setSaid({ key, reply: null, failed: messageOf(error) }),
    );
    return () => {
      isWanted = false;
    };
    // What is asked is told by the key.
  }, [key]);
  return said?.key === key ? said : { reply: null, failed: '' };
}
