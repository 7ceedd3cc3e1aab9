import type { Settings } from '../../app/host/api.ts';
import { handlingsOf, type Ask } from '../../app/bench/resident/asks.ts';
import { instrumentsOf, type Instruments } from '../../app/bench/resident/instruments.ts';
import { patternFrom } from '../../app/bench/resident/resident.ts';
import { cuffTrace, HIGHEST, pressureAt } from '../../app/bench/pressure.ts';
import type { BenchEvent, RehearsalEvent } from '../../app/marking/events.ts';
import { beamOf } from '../../app/marking/simulated.ts';
import type { State } from '../../app/marking/state.ts';
import { asksOf, isAtHand } from '../../app/run/atBench/atBench.ts';
import type { Run } from '../../app/run/run.ts';
import type { RoomMicrophone } from './roomMicrophone.ts';

/** Milliseconds from one squeeze of the bulb to the next where one pumps by saying so: slow enough to say "enough" in time. */
const SQUEEZE_EVERY = 800;

/** Residents have numbers below this, so that one can be read out and typed in. */
const MOST_SEED = 100_000_000;

/** Asks beside which pumping goes on. */
const BESIDE_PUMPING: readonly Ask['ask'][] = ['listen', 'feel', 'support arm'];

export interface RoomBenchOptions {
  readonly run: Run;
  readonly settings: Settings;
  readonly microphone: Pick<RoomMicrophone, 'now'>;
}

/** The simulated resident in the room: met as a skill opens, handled by what is said and pressed, each thing at the moment it is done. */
export class RoomBench {
  private pumping: ReturnType<typeof setInterval> | null = null;

  constructor(private readonly options: RoomBenchOptions) {}

  /** Meets a resident in the skill that is open, where it has one and none was met yet. */
  meet(): void {
    const { run, settings, microphone } = this.options;
    const { kind, seed: wanted } = settings.resident;
    const measure = run.checklist.skill.bench;
    if (measure === undefined || kind === 'none' || run.state.bench !== null) return;
    const seed = wanted ?? (crypto.getRandomValues(new Uint32Array(1))[0] ?? 0) % MOST_SEED;
    const pattern = patternFrom(measure, seed, kind);
    void run.atBench([{ type: 'met', measure, seed, pattern, at: microphone.now }]);
  }

  /** Does what events ask for: what was said to the instruments, and what credited steps do. */
  take(state: State, events: readonly RehearsalEvent[]): void {
    for (const ask of asksOf(this.options.run.checklist, state, events)) this.do(ask);
  }

  /** Does what was asked by a key, where the resident is there. */
  press(ask: Ask): void {
    const { run } = this.options;
    if (isAtHand(run.checklist, run.state)) this.do(ask);
  }

  close(): void {
    this.stopPumping();
  }

  private do(ask: Ask): void {
    if (!BESIDE_PUMPING.includes(ask.ask)) this.stopPumping();
    if (ask.ask === 'pump') this.pump(ask.to ?? HIGHEST);
    else this.handle(ask);
  }

  private pump(to: number): void {
    const squeeze = (): void => {
      const { run, microphone } = this.options;
      const { bench, paused } = run.state;
      const cuff = this.instruments?.cuff ?? [];
      const now = microphone.now - (bench?.resident.at ?? 0);
      const isThere = bench === null || pressureAt(cuffTrace(cuff, now + 1), now + 1) >= to;
      if (isThere || paused !== null || run.isOver) return this.stopPumping();
      this.handle({ ask: 'squeeze' });
    };
    this.pumping = setInterval(squeeze, SQUEEZE_EVERY);
    squeeze();
  }

  private stopPumping(): void {
    if (this.pumping !== null) clearInterval(this.pumping);
    this.pumping = null;
  }

  private get instruments(): Instruments | null {
    const { bench } = this.options.run.state;
    return bench && instrumentsOf(bench.resident.at, bench.handled);
  }

  private handle(ask: Ask): void {
    const { run, microphone } = this.options;
    const { bench } = run.state;
    if (!bench || !this.instruments) return;
    const { seed } = bench.resident;
    const at = microphone.now;
    const done = handlingsOf(ask, this.instruments, { seed, beam: beamOf(run.checklist) });
    void run.atBench(done.map((how): BenchEvent => ({ type: 'handled', at, how })));
  }
}
