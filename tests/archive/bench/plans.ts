import { CompiledQuery, type KyselyPlugin, type RootOperationNode } from 'kysely';
import type { Seen } from '../../../app/archive/store/connection.ts';

/** Tables that grow with attempts: no view may read one from beginning to end. */
export const BIG = ['attempts', 'marks', 'reviews', 'tried', 'journals', 'step_months', 'standings'];

interface Plan {
  readonly 'Node Type': string;
  readonly 'Relation Name'?: string;
  readonly Plans?: readonly Plan[];
}

/** Does something, then asks how the database runs each of its queries. Tells the big tables that are read from beginning to end. */
export async function sequentialScansOf(db: Seen, work: (db: Seen) => Promise<unknown>): Promise<string[]> {
  const asked: RootOperationNode[] = [];
  const listening: KyselyPlugin = {
    transformQuery: ({ node }) => {
      asked.push(node);
      return node;
    },
    transformResult: ({ result }) => Promise.resolve(result),
  };
  await work(db.withPlugin(listening));
  const found: string[] = [];
  for (const node of asked) {
    const { sql, parameters } = db.getExecutor().compileQuery(node, { queryId: 'explained' });
    const { rows } = await db.executeQuery<{ 'QUERY PLAN': readonly { Plan: Plan }[] }>(
      CompiledQuery.raw(`explain (format json) ${sql}`, [...parameters]),
    );
    const plans = rows.flatMap((row) => row['QUERY PLAN'].map(({ Plan }) => Plan));
    found.push(...plans.flatMap(scansIn));
  }
  return [...new Set(found)];
}

const scansIn = (plan: Plan): string[] => [
  ...(plan['Node Type'] === 'Seq Scan' && BIG.includes(plan['Relation Name'] ?? '')
    ? [plan['Relation Name'] ?? '']
    : []),
  ...(plan.Plans ?? []).flatMap(scansIn),
];
