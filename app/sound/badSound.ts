/** A sound file that cannot be used. The message says what is wrong, where, and what to do about it. */
export class BadSound extends Error {
  override readonly name = 'BadSound';
}
