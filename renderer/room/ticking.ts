import type { Settings } from '../../app/host/api.ts';
import { isAtHand } from '../../app/run/atBench/atBench.ts';
import { nudge, timeCall } from '../../app/run/coach.ts';
import type { Run } from '../../app/run/run.ts';
import { isSilent } from '../../app/run/testPlan.ts';
import { LONG_SILENCE, nudgeDue } from '../../app/run/talk.ts';
import type { RoomCoach } from './roomCoach.ts';
import { CAUGHT_UP, type RoomEar } from './roomEar.ts';
import type { RoomMicrophone } from './roomMicrophone.ts';
import { dialOf } from './roomView.ts';
import type { Shown } from './shown.ts';

/** Milliseconds between two looks at the clock. */
const EVERY = 200;

export interface TickingOptions {
  readonly run: Run;
  readonly shown: Shown;
  readonly ear: RoomEar;
  readonly coach: RoomCoach;
  readonly microphone: RoomMicrophone;
  readonly settings: Settings;
}

/** What time alone does in the room: a test's clock, calls of the time left, the sound of a clock that is met, a word after a silence. */
export class Ticking {
  private readonly timer = setInterval(() => this.tick(), EVERY);
  /** Up to when calls of the time left have been looked for, seconds of the recording. */
  private called: number;
  /** The step whose clock has been told to have run long enough. */
  private reachedStep: string | null = null;
  private keepingTime = false;

  constructor(private readonly options: TickingOptions) {
    this.called = options.microphone.now;
  }

  close(): void {
    clearInterval(this.timer);
  }

  private tick(): void {
    const { shown, microphone } = this.options;
    microphone.checkSilence();
    shown.expireCaption();
    this.tellReached();
    const { phase } = shown.snapshot();
    if (phase !== 'opening' && phase !== 'ending') this.keepTime();
    const stretch = { from: this.called, to: microphone.now };
    this.called = stretch.to;
    if (phase === 'live') this.speakUp(stretch);
  }

  /** Plays a sound when a clock has run long enough, once for each step. Not beside a simulated resident, who is watched by the clock on the wall. */
  private tellReached(): void {
    const { run, microphone, coach } = this.options;
    const dial = dialOf(run.checklist, run.state, microphone.now);
    const reached = dial.kind === 'timed' && dial.state === 'reached' ? dial.step : null;
    const isTold = !isSilent(run.plan) && !isAtHand(run.checklist, run.state);
    if (reached !== null && reached !== this.reachedStep && isTold) coach.play('clock met');
    this.reachedStep = reached;
  }

  /** Says what is to be said of the time left, or after a long silence. */
  private speakUp(stretch: { readonly from: number; readonly to: number }): void {
    const { run, ear, coach, shown, settings } = this.options;
    if (coach.speaking) return;
    const { checklist, state } = run;
    const call = timeCall(checklist, state, stretch);
    if (call !== null) return coach.say(call);
    // Who is heard speaking, or may not be heard at all, is not asked to speak.
    const isQuiet = stretch.to - ear.lastSpeech >= LONG_SILENCE && shown.snapshot().troubles.length === 0;
    if (settings.style === 'coach' && isQuiet && nudgeDue(checklist, state, stretch.to))
      coach.say(nudge(state));
  }

  /** Lets the clock of a mock test do what it does, once all that was said before is known. */
  private keepTime(): void {
    const { run, ear } = this.options;
    const now = this.options.microphone.now;
    const due = this.keepingTime ? null : run.dueBy(now);
    // What was said just before may still be in its closing silence.
    if (!due || (ear.isHearing && now - due.at < CAUGHT_UP)) return;
    const known = ear.caughtUp();
    if (!known) return;
    this.keepingTime = true;
    void known.then(() => run.tick(now)).finally(() => (this.keepingTime = false));
  }
}
