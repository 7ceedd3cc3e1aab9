import { useLocation } from 'wouter';
import { ADDRESS } from '../addresses.ts';
import { BenchPage } from '../bench/BenchPage.tsx';
import { useKnown } from '../known.tsx';

/** The bench under the rules that rehearsals go by. */
export function Bench() {
  const { library } = useKnown();
  const [, navigate] = useLocation();
  return <BenchPage rules={library.rules} onBack={() => navigate(ADDRESS.home)} />;
}
