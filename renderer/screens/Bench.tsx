import { useEffect, useState } from 'react';
import { useLocation } from 'wouter';
import type { ReadingTaken } from '../../app/bench/readings/taken.ts';
import { ADDRESS } from '../addresses.ts';
import { api } from '../api.ts';
import { BenchPage } from '../bench/BenchPage.tsx';
import { useKnown } from '../known.tsx';

/**
 * The bench under the rules that rehearsals go by. What is read is kept with the person chosen.
 *
 * @param seed a whole number, of the first resident: who opens the same address meets the same one
 */
export function Bench({ seed }: { readonly seed: string | undefined }) {
  const { library, people, fail } = useKnown();
  const [, navigate] = useLocation();
  const [before, setBefore] = useState<readonly ReadingTaken[]>([]);
  const { chosen } = people;
  useEffect(() => {
    if (chosen === null) return setBefore([]);
    api
      .readings()
      .then((all) => setBefore(all.find(({ trainee }) => trainee === chosen)?.readings ?? []), fail);
  }, [chosen, fail]);
  const first = /^\d{1,9}$/.test(seed ?? '') ? { seed: Number(seed) } : {};
  return (
    <BenchPage
      rules={library.rules}
      {...first}
      before={before}
      isKept={chosen !== null}
      onTaken={(readings) => {
        if (chosen !== null) api.keepReadings(readings).catch(fail);
      }}
      onBack={() => navigate(ADDRESS.home)}
    />
  );
}
