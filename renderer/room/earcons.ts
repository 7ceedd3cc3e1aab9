import type { Checklist } from '../../app/skills/checklist.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { outcomesOf } from '../../app/marking/result.ts';
import { fold, type State } from '../../app/marking/state.ts';

/** Short soft sounds, each with a shape of its own, so that they can be told apart without looking. */
export type Earcon = 'credited' | 'out of order' | 'unsure' | 'clock met' | 'command' | 'trouble';

/** Notes as [Hz, seconds from the beginning, seconds long]. */
const NOTES: Readonly<Record<Earcon, readonly (readonly [number, number, number])[]>> = {
  /** Two notes up. */
  credited: [
    [660, 0, 0.09],
    [880, 0.09, 0.14],
  ],
  /** Two notes down. */
  'out of order': [
    [660, 0, 0.09],
    [494, 0.09, 0.16],
  ],
  /** One low note, twice. */
  unsure: [
    [392, 0, 0.08],
    [392, 0.13, 0.1],
  ],
  /** Three notes up: the longest of them. */
  'clock met': [
    [523, 0, 0.12],
    [659, 0.12, 0.12],
    [784, 0.24, 0.28],
  ],
  /** One short tick. */
  command: [[988, 0, 0.05]],
  trouble: [
    [330, 0, 0.15],
    [262, 0.17, 0.25],
  ],
};

/** Loudness of a note at full volume, 0–1: heard two metres off, not taken for speech by the microphone beside it. */
const GAIN = 0.15;

/** Plays earcons. Made once; browsers let it sound after the first key or click. */
export class Earcons {
  private context: AudioContext | null = null;

  /** @param volume 0–1 */
  constructor(private readonly volume: number) {}

  play(earcon: Earcon): void {
    if (this.volume <= 0) return;
    this.context ??= new AudioContext();
    const { context } = this;
    void context.resume();
    for (const [frequency, after, length] of NOTES[earcon]) {
      const from = context.currentTime + 0.01 + after;
      const note = new OscillatorNode(context, { type: 'sine', frequency });
      const gain = new GainNode(context, { gain: 0 });
      // Rising and falling softly: a sine cut off hard clicks.
      gain.gain.setValueAtTime(0, from);
      gain.gain.linearRampToValueAtTime(GAIN * this.volume, from + 0.015);
      gain.gain.exponentialRampToValueAtTime(0.0005, from + length);
      note.connect(gain).connect(context.destination);
      note.start(from);
      note.stop(from + length + 0.02);
    }
  }

  async close(): Promise<void> {
    await this.context?.close();
    this.context = null;
  }
}

/**
 * The earcon for what an utterance led to, or null. One at most: several at once cannot be told apart, so the one that
 * asks something of the trainee goes first.
 *
 * @param before the state without the events
 */
export function earconFor(
  checklist: Checklist,
  before: State,
  events: readonly RehearsalEvent[],
): Earcon | null {
  const touched = new Set(
    events.flatMap((event) =>
      event.type === 'credited' ||
      event.type === 'doubted' ||
      event.type === 'withdrawn' ||
      event.type === 'movement' ||
      event.type === 'clock'
        ? [event.step]
        : [],
    ),
  );
  if (touched.size === 0) return null;
  const after = events.reduce(fold, before);
  const was = outcomesOf(checklist, before);
  const is = outcomesOf(checklist, after);
  const changedTo = (outcome: string): boolean =>
    [...touched].some((step) => is.get(step) === outcome && was.get(step) !== outcome);
  if (changedTo('out of order')) return 'out of order';
  if (events.some(({ type }) => type === 'withdrawn')) return 'unsure';
  const begun = events.some((event) => event.type === 'clock' && event.move === 'start');
  if (changedTo('heard') || begun) return 'credited';
  return events.some(({ type }) => type === 'doubted') && changedTo('unsure') ? 'unsure' : null;
}
