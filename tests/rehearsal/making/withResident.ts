import { vi } from 'vitest';
import { findNumbers } from '../../../app/language/numbers.ts';
import { RehearsalEventSchema, type RehearsalEvent } from '../../../app/marking/events.ts';
import { markRehearsal } from '../../../app/marking/result.ts';
import { Run } from '../../../app/run/run.ts';
import type { RunPlan } from '../../../app/run/testPlan.ts';
import { DEFAULT_SETTINGS } from '../../../app/settings/settings.ts';
import type { ResidentSettings } from '../../../app/settings/resident.ts';
import { RoomBench } from '../../../renderer/room/roomBench.ts';
import { utterance } from './narrate.ts';

/** Seconds after its end in which an utterance is recognised. */
const LAG = 1;

/** A rehearsal with a simulated resident as the room has it, on a time that is moved by hand. Needs vitest's fake timers. */
export async function withResident(
  plan: RunPlan,
  resident: Partial<ResidentSettings>,
  script: readonly (string | number | ((run: Run, now: number) => string))[],
) {
  vi.setSystemTime(0);
  const microphone = {
    get now(): number {
      return Date.now() / 1000;
    },
  };
  const settings = { ...DEFAULT_SETTINGS, resident: { ...DEFAULT_SETTINGS.resident, ...resident } };
  const events: RehearsalEvent[] = [];
  const told: { bench: RoomBench | null } = { bench: null };
  const run: Run = new Run(
    plan,
    (heard) => Promise.resolve(heard),
    (led) => {
      events.push(...led);
      const opens = led.some(({ type }) => type === 'began');
      // As in the room: the first skill's resident is met once the room listens.
      told.bench?.take(run.state, led);
      if (opens) told.bench?.meet();
    },
  );
  const bench = new RoomBench({ run, settings, microphone });
  told.bench = bench;
  bench.meet();
  await run.tick(microphone.now);
  let id = 0;
  for (const happening of script) {
    if (typeof happening === 'number') {
      await vi.advanceTimersByTimeAsync(1000 * happening);
      continue;
    }
    const text = typeof happening === 'string' ? happening : happening(run, microphone.now);
    const numbers = findNumbers(text.split(' ')).map((n) => ({ ...n, share: 1, rivals: [] }));
    const heard = { ...utterance(text, microphone.now, id++), numbers };
    await vi.advanceTimersByTimeAsync(1000 * (heard.end - heard.start + LAG));
    await run.hear(heard);
    await vi.advanceTimersByTimeAsync(1000);
  }
  bench.close();
  await run.end(microphone.now);
  return { run, events, state: run.state, marks: markRehearsal(run.checklist, run.state) };
}

/** Events as they come back from the journal on disk. */
export const kept = (events: readonly RehearsalEvent[]): RehearsalEvent[] =>
  events.map((event) => RehearsalEventSchema.parse(JSON.parse(JSON.stringify(event))));
