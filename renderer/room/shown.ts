import type { Checklist } from '../../app/skills/checklist.ts';
import { hasBegun, type State } from '../../app/marking/state.ts';
import type { Run } from '../../app/run/run.ts';
import type { Level } from '../../app/loudness/soundCheck.ts';
import { withoutTrouble, withTrouble, type Trouble, type TroubleKind } from './troubles.ts';

/** What the room's screen shows at a moment. */
export interface RoomShown {
  readonly phase: 'opening' | 'ready' | 'live' | 'ending';
  /** The skill that is open, and how many of a mock test's have been opened. */
  readonly checklist: Checklist;
  readonly opened: number;
  readonly state: State;
  /** Seconds of the recording. */
  readonly now: number;
  /** What is being said just now; empty in between. */
  readonly partial: string;
  /** What the coach said last; empty when that is a while ago. */
  readonly caption: string;
  readonly level: Level | null;
  /** Whether the microphone was never checked beside a tap. */
  readonly unchecked: boolean;
  readonly troubles: readonly Trouble[];
}

/** Seconds a caption stays on at the least, and a second more for so many characters: a slow reader's speed. */
const CAPTION_STAYS = 4;
const READ_PER_SECOND = 12;

/** The one place where what is shown stands, and who is told when it changes. */
export class Shown {
  private readonly listeners = new Set<() => void>();
  private captionUntil = 0;

  private shown: RoomShown;

  /** @param now seconds of the recording */
  constructor(run: Run, now: number) {
    this.shown = {
      phase: 'opening',
      ...shownOf(run),
      now,
      partial: '',
      caption: '',
      level: null,
      unchecked: false,
      troubles: [],
    };
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.listeners.add(listener);
    return () => void this.listeners.delete(listener);
  };

  readonly snapshot = (): RoomShown => this.shown;

  change(change: Partial<RoomShown>): void {
    this.shown = { ...this.shown, ...change };
    for (const listener of this.listeners) listener();
  }

  /** Shows a run as it stands at a moment. It is live once the trainee has begun. */
  run(run: Run, now: number): void {
    const { phase } = this.shown;
    this.change({
      ...shownOf(run),
      now,
      phase: phase === 'ready' && hasBegun(run.state) ? 'live' : phase,
    });
  }

  /** Shows a caption for as long as it takes to read it. */
  caption(caption: string): void {
    this.captionUntil = performance.now() + 1000 * (CAPTION_STAYS + caption.length / READ_PER_SECOND);
    this.change({ caption });
  }

  /** Takes a caption off that has been on long enough. */
  expireCaption(): void {
    if (this.shown.caption !== '' && performance.now() > this.captionUntil) this.change({ caption: '' });
  }

  addTrouble(trouble: Trouble): void {
    this.change({ troubles: withTrouble(this.shown.troubles, trouble) });
  }

  removeTroubles(...kinds: readonly TroubleKind[]): void {
    const troubles = withoutTrouble(this.shown.troubles, ...kinds);
    if (troubles !== this.shown.troubles) this.change({ troubles });
  }
}

const shownOf = ({ checklist, opened, state }: Run) => ({ checklist, opened, state });
