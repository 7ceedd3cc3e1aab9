import { z } from 'zod';

/** What is wrong with a file a school wrote: where, and what to do. Lines and columns count from 1. */
export const FaultSchema = z
  .object({
    file: z.string(),
    line: z.number().int(),
    column: z.number().int(),
    /** Path to the field, such as `steps[3].cues[0]`; empty for the file as a whole. */
    field: z.string(),
    message: z.string(),
  })
  .readonly();
export type Fault = z.infer<typeof FaultSchema>;

/** What was thrown, in words. */
export const messageOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));

export type Path = readonly (string | number)[];

/** A path as it is written: `steps[3].cues[0]`. */
export function fieldOf(path: Path): string {
  const written = path.map((key) => (typeof key === 'number' ? `[${key}]` : `.${key}`)).join('');
  return written.replace(/^\./, '');
}

/** Thrown when a file cannot be used; carries every fault found, not only the first. */
export class FaultyFile extends Error {
  constructor(readonly faults: readonly Fault[]) {
    super(faults.map(describeFault).join('\n'));
    this.name = 'FaultyFile';
  }
}

export function describeFault({ file, line, column, field, message }: Fault): string {
  return `${file}:${line}:${column}: ${field === '' ? '' : `${field}: `}${message}`;
}
