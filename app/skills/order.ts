import type { Step } from './skill.ts';

/** What order the steps must come in. A partial order: whatever is not named here may come at any time. */

type Ordered = Pick<Step, 'id' | 'after' | 'before' | 'directlyAfter'>;

/** `earlier` must come before `later`; `owner` is the step whose file entry says so, and which is flagged otherwise. */
export interface Constraint {
  readonly earlier: string;
  readonly later: string;
  readonly owner: string;
  readonly directly: boolean;
}

/** All constraints among the given steps. Those that name a step that is not among them (another variant's) are left out. */
export function constraintsOf(steps: readonly Ordered[]): Constraint[] {
  const present = new Set(steps.map((s) => s.id));
  return steps
    .flatMap((step): Constraint[] => [
      ...(step.after ?? []).map((earlier) => ({ earlier, later: step.id, owner: step.id, directly: false })),
      ...(step.before ?? []).map((later) => ({ earlier: step.id, later, owner: step.id, directly: false })),
      ...(step.directlyAfter === undefined
        ? []
        : [{ earlier: step.directlyAfter, later: step.id, owner: step.id, directly: true }]),
    ])
    .filter((c) => present.has(c.earlier) && present.has(c.later));
}

/** Circles in the order, each as its step ids in turn; empty when the order can be kept. */
export function orderFaults(steps: readonly Ordered[]): string[][] {
  const next = new Map<string, string[]>();
  for (const { earlier, later } of constraintsOf(steps))
    next.set(earlier, [...(next.get(earlier) ?? []), later]);
  const done = new Set<string>();
  const cycles: string[][] = [];
  const walk = (id: string, trail: readonly string[]): void => {
    const back = trail.indexOf(id);
    if (back >= 0) {
      cycles.push(trail.slice(back));
      return;
    }
    if (done.has(id)) return;
    for (const to of next.get(id) ?? []) walk(to, [...trail, id]);
    done.add(id);
  };
  for (const { id } of steps) walk(id, []);
  return cycles;
}

export interface OrderFlag {
  readonly step: string;
  /** The step it should have followed or preceded. */
  readonly other: string;
  readonly should: 'follow' | 'precede' | 'directly follow';
}

/**
 * Which steps were said out of order. `times` holds, for each credited step, the seconds at which it was said, in
 * order. A step that was said again at the right moment has put its slip right, so a constraint is kept as soon as some
 * saying of the earlier step comes before some saying of the later one. Steps never said break nothing.
 */
export function orderFlags(
  constraints: readonly Constraint[],
  times: ReadonlyMap<string, readonly number[]>,
): OrderFlag[] {
  return constraints.flatMap((constraint): OrderFlag[] => {
    const { earlier, later, owner, directly } = constraint;
    const first = times.get(earlier)?.[0];
    const last = times.get(later)?.at(-1);
    if (first === undefined || last === undefined) return [];
    const other = owner === earlier ? later : earlier;
    if (directly)
      return first > last || isAnythingBetween(constraint, first, last, times)
        ? [{ step: owner, other, should: 'directly follow' }]
        : [];
    return first > last ? [{ step: owner, other, should: owner === later ? 'follow' : 'precede' }] : [];
  });
}

/** Whether another step was said between two times, in seconds. */
const isAnythingBetween = (
  { earlier, later }: Constraint,
  from: number,
  to: number,
  times: ReadonlyMap<string, readonly number[]>,
): boolean =>
  [...times].some(([id, said]) => id !== earlier && id !== later && said.some((t) => t > from && t < to));
