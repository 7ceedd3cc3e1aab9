import { useEffect, useState } from 'react';
import type { Finding, Found } from '../../app/host/api.ts';
import { api } from '../api.ts';
import { useKnown } from '../known.tsx';

/**
 * What the host finds, asked again whenever something changes; null before its first answer.
 *
 * @param finding the same object while it asks for the same
 * @param most how many are answered at the most
 */
export function useFound(finding: Finding, most: number): Found | null {
  const { latest, fail } = useKnown();
  const [found, setFound] = useState<Found | null>(null);
  useEffect(() => {
    let isWanted = true;
    api.found({ ...finding, most }).then((answer) => {
      if (isWanted) setFound(answer);
    }, fail);
    return () => {
      isWanted = false;
    };
    // Whatever is kept, deleted or read anew makes another `latest`.
  }, [finding, most, latest, fail]);
  return found;
}
