/**
 * One button for everything: keys that presentation clickers and switches send. A short press begins, pauses and goes
 * on; a long or a double press stops.
 */

export const CLICKER_KEYS: ReadonlySet<string> = new Set(['Enter', 'PageDown', 'ArrowRight']);

/** Milliseconds a press must last to be long: well above a firm press, well below what tires a finger. */
export const LONG_PRESS = 900;
/** Milliseconds within which a second press makes a double one; the usual double-click time of desktops. */
export const DOUBLE_WITHIN = 400;

export type Press = 'short' | 'stop';

/** Tells presses apart. Give it every key-down and key-up; it answers through `onPress`. */
export class Clicker {
  private held = false;
  private waiting: ReturnType<typeof setTimeout> | null = null;
  private long: ReturnType<typeof setTimeout> | null = null;

  constructor(private readonly onPress: (press: Press) => void) {}

  /** Key repeats of a held button are ignored. */
  down(): void {
    if (this.held) return;
    this.held = true;
    if (this.waiting) {
      this.take('stop');
      return;
    }
    this.long = setTimeout(() => this.take('stop'), LONG_PRESS);
  }

  up(): void {
    this.held = false;
    if (!this.long) return;
    clearTimeout(this.long);
    this.long = null;
    this.waiting = setTimeout(() => this.take('short'), DOUBLE_WITHIN);
  }

  /** Forgets a press that has not been told yet. */
  close(): void {
    if (this.waiting) clearTimeout(this.waiting);
    if (this.long) clearTimeout(this.long);
    this.waiting = this.long = null;
  }

  private take(press: Press): void {
    this.close();
    this.onPress(press);
  }
}
