/** What is read in a unit, as people call it. */
const NAMES: Readonly<Record<string, string>> = {
  'breaths a minute': 'Respirations',
  'beats a minute': 'Pulse',
  millilitres: 'Urine output',
  pounds: 'Weight',
  kilograms: 'Weight',
};

/** The name of a step's reading: that of its unit; of a pressure's two numbers, the upper is said first. */
export function readingName(unit: string, which: 'first' | 'last'): string {
  if (unit === 'mmHg') return which === 'first' ? 'Upper number' : 'Lower number';
  return NAMES[unit] ?? unit;
}
