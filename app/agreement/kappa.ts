/** How often two raters put a thing of class i (row: the first's word) in class j (column: the second's). */
export type Confusion = readonly (readonly number[])[];

export type Kappa = {
  /** How many things both rated. */
  readonly n: number;
  /** Share on which both said the same, 0–1; null where nothing was rated. */
  readonly observed: number | null;
} & (
  | {
      readonly kappa: number;
      readonly standardError: number;
      /** 95 %, within −1…1. Null where the two never differ: the method gives no width there. */
      readonly interval: readonly [low: number, high: number] | null;
      readonly why: null;
    }
  /** Not to be computed, and why. */
  | { readonly kappa: null; readonly standardError: null; readonly interval: null; readonly why: string }
);

/** The 0.975 quantile of the standard normal distribution. */
const Z = 1.959964;

/**
 * Cohen's kappa: agreement beyond what the two raters' own habits would give by chance (J. Cohen, Educational and Psychological
 * Measurement 20, 1960). Its interval is normal, with the asymptotic standard error of J. Fleiss, J. Cohen and B. Everitt (Psychological
 * Bulletin 72, 1969). That takes the things rated for independent: steps of one attempt are not quite, so the true interval is wider.
 *
 * @param confusion square, of counts
 */
export function cohensKappa(confusion: Confusion): Kappa {
  const rows = confusion.map(sum);
  const n = sum(rows);
  const none = (observed: number | null, why: string): Kappa => ({
    n,
    observed,
    kappa: null,
    standardError: null,
    interval: null,
    why,
  });
  if (n === 0) return none(null, 'Nothing was rated by both.');
  const first = rows.map((count) => count / n);
  const second = confusion.map((_, j) => sum(confusion.map((row) => row[j] ?? 0)) / n);
  const share = (i: number, j: number): number => (confusion[i]?.[j] ?? 0) / n;
  const classes = [...confusion.keys()];
  const observed = sum(classes.map((i) => share(i, i)));
  const expected = sum(classes.map((i) => at(first, i) * at(second, i)));
  // Both put everything in the same single class: nothing can be told from chance.
  if (expected > 1 - 1e-12)
    return none(observed, 'Both used one class only: agreement by chance is certain.');

  const kappa = (observed - expected) / (1 - expected);
  const alike = sum(
    classes.map((i) => share(i, i) * (1 - (at(first, i) + at(second, i)) * (1 - kappa)) ** 2),
  );
  const apart = sum(
    classes.flatMap((i) =>
      classes.map((j) => (i === j ? 0 : share(i, j) * (at(second, i) + at(first, j)) ** 2)),
    ),
  );
  const variance = alike + (1 - kappa) ** 2 * apart - (kappa - expected * (1 - kappa)) ** 2;
  // Rounding may leave a little below zero.
  const standardError = Math.sqrt(Math.max(0, variance) / n) / (1 - expected);
  const differ = classes.some((i) => classes.some((j) => i !== j && share(i, j) > 0));
  return {
    n,
    observed,
    kappa,
    standardError,
    interval: differ
      ? [Math.max(-1, kappa - Z * standardError), Math.min(1, kappa + Z * standardError)]
      : null,
    why: null,
  };
}

const at = (values: readonly number[], i: number): number => values[i] ?? 0;
const sum = (values: readonly number[]): number => values.reduce((all, value) => all + value, 0);
