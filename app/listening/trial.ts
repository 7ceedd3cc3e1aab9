import type { Outcome } from '../marking/assessment.ts';
import type { Checklist } from '../skills/checklist.ts';
import { markSaid } from '../run/narration.ts';
import { markRehearsal } from '../marking/result.ts';
import type { Listener, ListenerEvent } from './listener.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { Run } from '../run/run.ts';
import { practiceOf } from '../run/testPlan.ts';

/** What a listener is tried with, and how the trial touches the world. */
export interface TrialOptions {
  readonly listener: Listener;
  /** Has the listener's events told to the trial. */
  listen(take: (event: ListenerEvent) => void): void;
  readonly checklist: Checklist;
  readonly phrases: readonly string[];
  /** A narration of the skill, mono at 16 kHz, and what it says, line by line; a number is a silence in seconds. */
  readonly samples: Float32Array;
  readonly says: readonly (string | number)[];
  /** Seconds of some steadily rising clock. */
  now(): number;
  wait(seconds: number): Promise<void>;
  /** The share that has been heard, 0–1. */
  onProgress(share: number): void;
  readonly signal: AbortSignal;
}

/** How a listener did, see `TrialSchema`. */
export interface TrialScore {
  readonly right: number;
  readonly of: number;
  readonly wrong: number;
  readonly wrongCritical: number;
  readonly tick: number | null;
  readonly settled: number | null;
}

/** Seconds of sound given to the listener at once, as a microphone does. */
const PIECE = 0.1;

/**
 * Has a listener hear a narration at the speed it was spoken in, and compares its credits with those of a perfect
 * recogniser. Delays count from the end of a step's words until the credit is told.
 *
 * @throws what `signal` was aborted with
 */
export async function tryListener(options: TrialOptions): Promise<TrialScore> {
  const { listener, checklist, samples, signal, now } = options;
  const began = { at: 0 };
  /** When each step was first ticked, and first credited, seconds since the beginning. */
  const ticked = new Map<string, number>();
  const settled = new Map<string, { readonly at: number; readonly said: number }>();
  const run = new Run(
    practiceOf(checklist),
    (u, wanted) => listener.pinpoint(u, wanted),
    (events) => {
      const at = now() - began.at;
      for (const event of events) {
        if (event.type !== 'tentative' && event.type !== 'credited') continue;
        if (!ticked.has(event.step)) ticked.set(event.step, at);
        if (event.type === 'credited' && !settled.has(event.step))
          settled.set(event.step, { at, said: event.evidence.end });
      }
    },
  );
  options.listen((event) => {
    if (event.type === 'utterance') void run.hear(event.utterance);
    if (event.type === 'partial') void run.partial(event);
  });
  await listener.start({ phrases: options.phrases });
  began.at = now();
  const piece = PIECE * SAMPLE_RATE;
  let fed: Promise<void> = Promise.resolve();
  for (let at = 0; at < samples.length; at += piece) {
    signal.throwIfAborted();
    // A microphone hands a piece over when it is full.
    await options.wait(Math.max(0, began.at + (at + piece) / SAMPLE_RATE - now()));
    fed = listener.feed(samples.slice(at, at + piece));
    options.onProgress(at / samples.length);
  }
  await fed;
  await listener.stop();
  await run.end(samples.length / SAMPLE_RATE);

  const isCredit = (outcome: Outcome): boolean => outcome === 'heard' || outcome === 'out of order';
  const truth = new Map(
    markSaid(checklist, options.says).steps.map(({ id, outcome }) => [id, isCredit(outcome)]),
  );
  const marks = markRehearsal(checklist, run.state).steps.filter(({ outcome }) => outcome !== 'needs eyes');
  const wrong = marks.filter(({ id, outcome }) => isCredit(outcome) && !truth.get(id));
  const delays = [...settled].map(([step, { at, said }]) => ({
    tick: (ticked.get(step) ?? at) - said,
    settled: at - said,
  }));
  return {
    right: marks.filter(({ id, outcome }) => isCredit(outcome) === truth.get(id)).length,
    of: marks.length,
    wrong: wrong.length,
    wrongCritical: wrong.filter(({ critical }) => critical).length,
    tick: median(delays.map(({ tick }) => tick)),
    settled: median(delays.map((delay) => delay.settled)),
  };
}

function median(values: readonly number[]): number | null {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? null;
}
