import { hasReading, type Form } from './form.ts';
import type { Random } from './random.ts';
import type { Skill } from './skill.ts';

/** The form cannot be drawn from these skills: what is lacking, and what to do. */
export class CannotDraw extends Error {
  override readonly name = 'CannotDraw';
}

/** Draws thrown away because of skills to be kept apart, before it is said that there is no other. */
const TRIES = 10_000;

/** What a weakness of 1 (nothing right) makes of a skill's weight: five times as likely as one that is mastered. */
const WEAKEST = 4;

/**
 * Draws the skills of a mock test, in the order they are to be done. Every choice that the form allows is as likely as its
 * skills' weights say, and with equal weights as every other; no skill comes twice.
 *
 * @param skills the library's, from which the form draws
 * @param weakness 0 (mastered) to 1 (nothing right) for skills to be drawn the more often the weaker they are; see
 *   `weaknessOf`
 * @throws {CannotDraw}
 */
export function draw(
  form: Form,
  skills: readonly Skill[],
  random: Random,
  weakness: ReadonlyMap<string, number> = new Map(),
): Skill[] {
  const known = new Map(skills.map((skill) => [skill.id, skill]));
  const first = form.first === undefined ? null : known.get(form.first);
  if (first === undefined)
    throw new CannotDraw(`The form "${form.id}" begins with "${form.first}", which is no skill here.`);
  const pool = (form.pool ?? [...known.keys()])
    .flatMap((id) => known.get(id) ?? [])
    .filter((skill) => skill !== first && !form.exclude.includes(skill.id));
  const weigh = (skill: Skill): number =>
    (form.weights[skill.id] ?? 1) * (1 + WEAKEST * (weakness.get(skill.id) ?? 0));

  const wanted = form.skills - (first ? 1 : 0);
  const readings =
    form.readings === undefined ? null : form.readings - Number(first !== null && hasReading(first));
  const pick = (): Skill[] => {
    if (readings === null) return shuffled(sample(pool, wanted, weigh, random), random);
    const measured = sample(pool.filter(hasReading), Math.max(0, readings), weigh, random);
    const others = sample(
      pool.filter((skill) => !hasReading(skill)),
      wanted - measured.length,
      weigh,
      random,
    );
    return shuffled([...measured, ...others], random);
  };
  for (let tries = 0; tries < TRIES; tries++) {
    const drawn = [...(first ? [first] : []), ...pick()];
    const isShort =
      drawn.length < form.skills ||
      (form.readings !== undefined && drawn.filter(hasReading).length !== form.readings);
    if (isShort)
      throw new CannotDraw(
        `The form "${form.id}" wants ${form.skills} skills${form.readings === undefined ? '' : `, ${form.readings} with a number to record`}; ` +
          `there are ${pool.length} to draw from, ${pool.filter(hasReading).length} with a number. Ask for fewer, or add skills.`,
      );
    const isTogether = form.apart.some((some) => drawn.filter(({ id }) => some.includes(id)).length > 1);
    if (!isTogether) return drawn;
  }
  throw new CannotDraw(
    `The form "${form.id}" keeps so many skills apart that ${form.skills} cannot be drawn. Take some out of "apart".`,
  );
}

/** So many of the items, one after the other, each as likely as its weight among those left. Fewer where there are no more. */
function sample<T>(items: readonly T[], count: number, weigh: (item: T) => number, random: Random): T[] {
  const left = [...items];
  const taken: T[] = [];
  while (taken.length < count && left.length > 0) {
    let at = random() * left.reduce((sum, item) => sum + weigh(item), 0);
    // The last one takes what rounding leaves over.
    const found = left.findIndex((item) => (at -= weigh(item)) < 0);
    taken.push(...left.splice(found, 1));
  }
  return taken;
}

/** Fisher and Yates' shuffle. */
function shuffled<T>(items: readonly T[], random: Random): T[] {
  const all = [...items];
  for (let i = all.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    // Both indexes are within the list: 0 ≤ j ≤ i < its length.
    [all[i], all[j]] = [all[j]!, all[i]!];
  }
  return all;
}

/** How a skill went at some time: how many of its steps were heard. */
export interface PastResult {
  readonly skill: string;
  readonly heard: number;
  readonly of: number;
  readonly criticalMissed: readonly string[];
}

/** Rehearsals of a skill looked back on, the newest counting most: each older one half as much. */
const LOOK_BACK = 4;

/**
 * How weak each skill is, 0 (mastered) to 1: the share of steps missed in its latest rehearsals, a run that missed a critical
 * step counting as missed by half at least. A skill never rehearsed is as weak as can be.
 *
 * @param past newest first
 */
export function weaknessOf(skills: readonly Skill[], past: readonly PastResult[]): Map<string, number> {
  return new Map(
    skills.map(({ id }) => {
      const own = past.filter((each) => each.skill === id && each.of > 0).slice(0, LOOK_BACK);
      if (own.length === 0) return [id, 1];
      const missed = own.map(({ heard, of, criticalMissed }) =>
        Math.max(1 - heard / of, criticalMissed.length > 0 ? 0.5 : 0),
      );
      const weigh = (at: number): number => 2 ** -at;
      const total = own.reduce((sum, _, i) => sum + weigh(i), 0);
      return [id, missed.reduce((sum, m, i) => sum + m * weigh(i), 0) / total];
    }),
  );
}
