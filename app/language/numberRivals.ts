/** Which other values a number is easily taken for when it is heard. */

/** Units that sound alike, and tens whose first syllable does. */
const ALIKE_UNITS = [
  [5, 9],
  [1, 9],
  [6, 8],
  [4, 5],
  [2, 3],
] as const;

/**
 * Values that a heard whole number is easily taken for: teens and tens (13/30, 118/180), a unit or a ten more or less,
 * a lost or added "hundred", units that sound alike (five/nine), syllables lost at either end (24 → 20 or 4; 118 →
 * 100 or 18), twelve/twenty, eleven/seven. Of a fraction: the same of its whole part, that part alone, and tenths that sound alike.
 * Without the value itself; in rising order.
 *
 * @param value from 0 to 9999, in tenths or quarters; answers none for others
 */
export function rivalsOf(value: number): number[] {
  if (!(value >= 0) || value > 9999) return [];
  if (!Number.isInteger(value)) return fractionRivals(value);
  const hundreds = value - (value % 100);
  const rivals = new Set(underHundredRivals(value % 100).map((rest) => hundreds + rest));
  const rest = value % 100;
  rivals.add(value + 1).add(value - 1);
  if (hundreds > 0) {
    // "One hundred" swallowed, the rest swallowed, and the hundreds themselves misheard.
    rivals.add(rest).add(hundreds);
    if (value < 1000) {
      rivals.add(value + 100).add(value - 100);
      // "One eighteen" heard as its parts.
      rivals.add(hundreds / 100);
    }
  } else if (value > 0) {
    rivals.add(100 + value);
    if (value < 10) rivals.add(value * 100);
  }
  rivals.delete(value);
  return [...rivals].filter((n) => n >= 0).sort((a, b) => a - b);
}

function fractionRivals(value: number): number[] {
  const whole = Math.floor(value);
  const hundredths = Math.round((value - whole) * 100);
  const tenths = hundredths % 10 === 0 ? alikeUnits(hundredths / 10) : [];
  const rivals = [whole, ...tenths.map((n) => whole + n / 10)];
  const others = rivalsOf(whole).map((n) => n + hundredths / 100);
  return [...rivals, ...others].map((n) => Number(n.toFixed(2))).sort((a, b) => a - b);
}

const alikeUnits = (n: number): number[] =>
  ALIKE_UNITS.filter(([a, b]) => a === n || b === n).map(([a, b]) => (a === n ? b : a));

/**
 * The ten that a teen is taken for, and the other way round: 18 and 80, 113 and 130. Null for numbers without one. Heard
 * numbers err this way more than any other.
 */
export function teenTwin(value: number): number | null {
  if (!(value >= 0)) return null;
  const rest = value % 100;
  if (!Number.isInteger(value)) {
    const twin = teenTwin(Math.floor(value));
    return twin === null ? null : Number((twin + (value % 1)).toFixed(2));
  }
  if (rest >= 13 && rest <= 19) return value - rest + (rest - 10) * 10;
  if (rest >= 30 && rest % 10 === 0) return value - rest + 10 + rest / 10;
  return null;
}

function underHundredRivals(rest: number): number[] {
  const unit = rest % 10;
  const tens = rest - unit;
  const rivals: number[] = [];
  if (rest >= 13 && rest <= 19)
    rivals.push((rest - 10) * 10, (rest - 10) * 10 + unit, unit, ...alikeUnits(unit).map((n) => 10 + n));
  if (rest >= 20 && unit === 0) rivals.push(10 + tens / 10);
  if (rest >= 20) {
    rivals.push(
      ...alikeUnits(tens / 10).map((n) => n * 10 + unit),
      tens + 10 < 100 ? tens + 10 + unit : tens,
      tens - 10 + unit,
    );
    if (unit > 0) rivals.push(tens, unit, 10 + tens / 10, ...alikeUnits(unit).map((n) => tens + n));
    else for (let n = 1; n <= 9; n++) rivals.push(tens + n);
  }
  if (rest < 10) {
    rivals.push(...alikeUnits(unit));
    if (unit >= 3) rivals.push(10 + unit, 10 * unit);
    if (unit > 0) rivals.push(20 + unit);
  }
  if (rest === 12) rivals.push(20, 2);
  if (rest === 20) rivals.push(12);
  if (rest === 11) rivals.push(7);
  if (rest === 7) rivals.push(11);
  if (rest === 10) rivals.push(9, 11, 100);
  return rivals.filter((n) => n !== rest);
}
