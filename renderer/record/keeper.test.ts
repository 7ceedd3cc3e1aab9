import { describe, expect, it, vi } from 'vitest';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { HostFailed } from '../api.ts';
import { Keeper, type KeeperEffects } from './keeper.ts';

const ended = (at: number): RehearsalEvent => ({ type: 'ended', at });

/** A disk that takes nothing while `gone`. Keeps by index and offset, as the host does. */
function disk() {
  const events: RehearsalEvent[] = [];
  const sound: number[] = [];
  const apart: { kept: object; events: RehearsalEvent[]; sound: number[] } = {
    kept: {},
    events: [],
    sound: [],
  };
  const nothing = (): void => undefined;
  const world = { gone: false, taken: false, events, sound, apart, tries: 0, onTry: nothing };
  /** What is written to: another window's once it was taken, then one of its own. */
  const target = (): { events: RehearsalEvent[]; sound: number[] } => {
    if (world.gone) throw new Error('The host is gone');
    if (world.taken && !('events' in apart.kept)) throw new HostFailed('Another window writes it.', [], true);
    return world.taken ? apart : world;
  };
  const effects: KeeperEffects = {
    sendEvents: async (from, batch) => {
      await Promise.resolve();
      const to = target();
      batch.forEach((event, i) => (to.events[from + i] = event));
    },
    sendSound: async (from, samples) => {
      await Promise.resolve();
      const to = target();
      samples.forEach((sample, i) => (to.sound[from + i] = sample));
    },
    startOwn: async (kept) => {
      await Promise.resolve();
      if (world.gone) throw new Error('The host is gone');
      Object.assign(apart, {
        kept,
        events: events.slice(0, kept.events),
        sound: sound.slice(0, kept.samples),
      });
    },
    wait: () => {
      world.tries += 1;
      world.onTry();
      return Promise.resolve();
    },
  };
  return { world, effects };
}

describe('the keeper', () => {
  it('keeps events and sound in order', async () => {
    const { world, effects } = disk();
    const keeper = new Keeper(effects);
    keeper.open();
    keeper.keepEvents([ended(1)]);
    keeper.keepSound(Float32Array.of(0, 1, -1));
    keeper.keepEvents([ended(2), ended(3)]);
    keeper.keepSound(Float32Array.of(0.5, 2));
    await keeper.finish();
    expect(world.events).toEqual([ended(1), ended(2), ended(3)]);
    expect(world.sound).toEqual([0, 32767, -32767, 16384, 32767]);
  });

  it('keeps nothing before it is opened, and then all of it', async () => {
    const { world, effects } = disk();
    const keeper = new Keeper(effects);
    keeper.keepEvents([ended(1)]);
    keeper.keepSound(Float32Array.of(1));
    await keeper.finish();
    expect(world.events).toEqual([]);
    keeper.open();
    await keeper.finish();
    expect(world.events).toEqual([ended(1)]);
    expect(world.sound).toEqual([32767]);
  });

  it('loses nothing while the host is gone, says so once it is, and says when it is back', async () => {
    const { world, effects } = disk();
    const said: (string | null)[] = [];
    const keeper = new Keeper(effects, (message) => said.push(message));
    keeper.open();
    keeper.keepEvents([ended(1)]);
    await keeper.finish();
    world.gone = true;
    keeper.keepEvents([ended(2)]);
    keeper.keepSound(new Float32Array(20_000).fill(1));
    world.onTry = () => {
      if (world.tries === 2) keeper.keepEvents([ended(3)]);
      if (world.tries === 3) world.gone = false;
    };
    await keeper.finish();
    expect(world.events).toEqual([ended(1), ended(2), ended(3)]);
    expect(world.sound).toHaveLength(20_000);
    expect(said).toEqual(['The host is gone', 'The host is gone', 'The host is gone', null]);
  });

  it('sends a long stretch of sound in pieces', async () => {
    const { world, effects } = disk();
    const lengths: number[] = [];
    const keeper = new Keeper({
      ...effects,
      sendSound: (from, samples) => {
        lengths.push(samples.length);
        return effects.sendSound(from, samples);
      },
    });
    keeper.open();
    keeper.keepSound(new Float32Array(1_000_000).fill(0.5));
    await keeper.finish();
    expect(lengths).toEqual([480_000, 480_000, 40_000]);
    expect(world.sound).toHaveLength(1_000_000);
  });

  it('keeps all in a rehearsal of its own when another window has taken this one, however late that can be begun', async () => {
    const { world, effects } = disk();
    const said: (string | null)[] = [];
    const keeper = new Keeper(effects, (message) => said.push(message));
    keeper.open();
    keeper.keepEvents([ended(1)]);
    keeper.keepSound(Float32Array.of(1));
    await keeper.finish();
    world.taken = world.gone = true;
    world.onTry = () => (world.gone = false);
    keeper.keepEvents([ended(2)]);
    keeper.keepSound(Float32Array.of(0.5, -1));
    await keeper.finish();
    expect([world.events, world.sound]).toEqual([[ended(1)], [32767]]);
    expect(world.apart).toEqual({
      kept: { events: 1, samples: 1 },
      events: [ended(1), ended(2)],
      sound: [32767, 16384, -32767],
    });
    expect(said).toEqual(['The host is gone', null]);
  });

  it('does not copy again what it tries again', async () => {
    const { world, effects } = disk();
    const sent = new Set<Int16Array>();
    const copied = vi.spyOn(Int16Array.prototype, 'set');
    const keeper = new Keeper({
      ...effects,
      sendSound: (from, samples) => {
        sent.add(samples);
        return effects.sendSound(from, samples);
      },
    });
    world.gone = true;
    for (let piece = 0; piece < 100; piece++) keeper.keepSound(new Float32Array(1600).fill(0.5));
    world.onTry = () => {
      if (world.tries === 20) world.gone = false;
    };
    keeper.open();
    await keeper.finish();
    expect(world.sound).toHaveLength(160_000);
    expect([sent.size, copied.mock.calls.length]).toEqual([1, 100]);
    copied.mockRestore();
  });
});
