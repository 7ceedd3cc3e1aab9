/**
 * Not all that was sent could be written. What is written is whole and on disk; `kept` counts it: the index of the next
 * event, or the place of the next sample.
 */
export class NotKept extends Error {
  override readonly name = 'NotKept';
  constructor(
    message: string,
    readonly kept: number,
    /** Whether the disk, a quota or the file's greatest size is full; else the disk failed otherwise. */
    readonly full: boolean,
  ) {
    super(message);
  }
}

/** What was sent begins beyond the end of what is kept: something between is missing. */
export class Gap extends Error {
  override readonly name = 'Gap';
  constructor(
    message: string,
    readonly kept: number,
  ) {
    super(message);
  }
}

/** What was sent begins in what is kept already, and is not the same. Nothing was changed. */
export class OtherContent extends Error {
  override readonly name = 'OtherContent';
  constructor(
    message: string,
    readonly kept: number,
  ) {
    super(message);
  }
}
