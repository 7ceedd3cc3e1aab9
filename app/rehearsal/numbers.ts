// placeholder until the listening helper writes this file
export function findNumbers(words: readonly string[]): { value: number; from: number; to: number }[] {
  return words.flatMap((w, i) =>
    /^\d+\W?$/.test(w) ? [{ value: parseInt(w, 10), from: i, to: i + 1 }] : [],
  );
}
