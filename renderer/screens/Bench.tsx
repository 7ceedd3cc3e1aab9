import { useLocation } from 'wouter';
import { ADDRESS } from '../addresses.ts';
import { BenchPage } from '../bench/BenchPage.tsx';
import { useKnown } from '../known.tsx';

/**
 * The bench under the rules that rehearsals go by.
 *
 * @param seed a whole number, of the first resident: who opens the same address meets the same one
 */
export function Bench({ seed }: { readonly seed: string | undefined }) {
  const { library } = useKnown();
  const [, navigate] = useLocation();
  const first = /^\d{1,9}$/.test(seed ?? '') ? { seed: Number(seed) } : {};
  return <BenchPage rules={library.rules} {...first} onBack={() => navigate(ADDRESS.home)} />;
}
