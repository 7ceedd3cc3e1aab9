/** The wait after the first wrong guess, ms; each further one doubles it. */
const FIRST_WAIT = 1000;
/** The longest wait, ms: whoever forgot the passphrase, or was locked out by a joker, need not wait longer. */
const LONGEST_WAIT = 15 * 60_000;

/** Lets passphrases be guessed ever more slowly. A guess counts as wrong until it is found right, so that many at once gain nothing. */
export class Guesses {
  /** Guesses since the last right one. */
  private count = 0;
  /** When the next guess may be made. */
  private next = -Infinity;

  /** @param now ms of a clock */
  constructor(private readonly now: () => number) {}

  /** Takes up a guess: 0 where it may be made, or else the ms still to wait. */
  take(): number {
    const wait = this.next - this.now();
    if (wait > 0) return wait;
    this.count += 1;
    this.wrong();
    return 0;
  }

  /** The guess taken up last was found wrong: looking at it may have taken a while, and the wait begins now. */
  wrong(): void {
    this.next = this.now() + Math.min(LONGEST_WAIT, FIRST_WAIT * 2 ** (this.count - 1));
  }

  /** The guess taken up last was right. */
  right(): void {
    this.count = 0;
    this.next = -Infinity;
  }
}
