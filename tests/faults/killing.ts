import { setTimeout } from 'node:timers/promises';
import { isDeepStrictEqual } from 'node:util';
import {
  CreatedSchema,
  KeptSchema,
  KeptSoundSchema,
  NewWriterSchema,
  RehearsalSchema,
  RehearsalsSchema,
  WRITER_HEADER,
  type Rehearsal,
} from '../../app/host/api.ts';
import type { RehearsalEvent, ReviewEvent } from '../../app/marking/events.ts';
import { SOUND_RATE } from '../../app/records/soundTrack.ts';
import type { Random } from '../../app/skills/random.ts';
import { kill, killAll, startRoom, type StartedRoom } from './room.ts';

/**
 * A host process that is killed (SIGKILL) again and again while somebody rehearses and somebody else reviews, by requests as the page
 * sends them: half a second of sound and some events at a time, each once the one before was answered.
 *
 * Lost is what was sent, answered or not, and is not on disk at the next start. What was answered must never be among it.
 */

/** What came of one kill. */
export interface Killed {
  /** ms after the first request. */
  readonly after: number;
  /** What was going on. */
  readonly during: 'rehearsing' | 'reviewing' | 'both';
  /** Seconds of sound, and events, that were sent and are not kept. */
  readonly lostSeconds: number;
  readonly lostEvents: number;
  /** Events and samples that were answered as kept and are not, or are others. */
  readonly broken: number;
  /** Whether it cannot be read, or only in part. */
  readonly unreadable: boolean;
  /** Whether it could be gone on with and ended, with all that was sent. */
  readonly resumed: boolean;
}

/** Samples sent at a time: half a second. */
const PIECE = SOUND_RATE / 2;
/** Events sent with each. */
const EVENTS = 3;
/** Time between two pieces, ms: five times as quick as somebody rehearses. */
const PACE = 100;
/** The latest moment of a kill after the first request, ms. */
const LATEST = 1500;
/** Events of the rehearsal that is reviewed. */
const REVIEWED = 60;

/** The nth event of a rehearsal that goes on. */
const eventAt = (n: number): RehearsalEvent =>
  n === 0
    ? { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } }
    : {
        type: 'credited',
        step: 'greet',
        evidence: { utterance: n, text: `saying ${n} `.repeat(20), start: n, end: n, score: 1 },
      };
const events = (from: number, to: number): RehearsalEvent[] =>
  Array.from({ length: to - from }, (_, n) => eventAt(from + n));
const reviewAt = (n: number): ReviewEvent => ({
  type: 'commented',
  by: 'R. Field',
  madeAt: '2026-02-01T10:00:00.000Z',
  at: n,
  text: `Comment ${n}.`,
});
/** Sound whose every sample tells its place. */
const soundOf = (from: number, to: number): Uint8Array<ArrayBuffer> =>
  new Uint8Array(Int16Array.from({ length: to - from }, (_, n) => (from + n) % 32_000).buffer);

/** What is sent to a rehearsal, and how much of it was answered as kept. */
interface Sending {
  readonly id: string;
  writer: string;
  sent: { events: number; samples: number; reviews: number };
  answered: { events: number; samples: number; reviews: number };
}

async function ask<T>(
  room: StartedRoom,
  schema: { parse(value: unknown): T },
  where: string,
  body?: unknown,
  writer = '',
): Promise<T> {
  const isSound = body instanceof Uint8Array;
  const response = await fetch(new URL(where, room.url), {
    method: body === undefined ? 'GET' : 'POST',
    headers: {
      [WRITER_HEADER]: writer,
      'content-type': isSound ? 'application/octet-stream' : 'application/json',
    },
    ...(body !== undefined && { body: isSound ? Uint8Array.from(body) : JSON.stringify(body) }),
  });
  if (!response.ok) throw new Error(`${where} answered ${response.status}: ${await response.text()}`);
  return schema.parse(await response.json());
}

async function begin(room: StartedRoom): Promise<Sending> {
  const begun = {
    skill: 'hand-washing',
    variants: {},
    style: 'coach',
    engine: 'test',
    startedAt: new Date().toISOString(),
  };
  const { id, writer } = await ask(room, CreatedSchema, '/api/rehearsals', begun);
  const none = { events: 0, samples: 0, reviews: 0 };
  return { id, writer, sent: { ...none }, answered: { ...none } };
}

const sendEvents = async (
  room: StartedRoom,
  to: Sending,
  from: number,
  some: RehearsalEvent[],
): Promise<void> => {
  to.sent.events = Math.max(to.sent.events, from + some.length);
  const at = `/api/rehearsals/${to.id}/events`;
  to.answered.events = (await ask(room, KeptSchema, at, { from, events: some }, to.writer)).kept;
};
const sendSound = async (room: StartedRoom, to: Sending, from: number, end: number): Promise<void> => {
  to.sent.samples = Math.max(to.sent.samples, end);
  const at = `/api/rehearsals/${to.id}/sound?from=${from}`;
  to.answered.samples = (await ask(room, KeptSoundSchema, at, soundOf(from, end), to.writer)).samples;
};

/** Rehearses until the host is gone. */
async function rehearse(room: StartedRoom, to: Sending): Promise<void> {
  for (;;) {
    const { events: from, samples } = to.answered;
    await sendEvents(room, to, from, events(from, from + EVENTS));
    await sendSound(room, to, samples, samples + PIECE);
    await setTimeout(PACE);
  }
}

/** Reviews until the host is gone, and looks at the list in between, so that the index is written as well. */
async function review(room: StartedRoom, to: Sending): Promise<void> {
  for (;;) {
    to.sent.reviews++;
    const body = { events: [reviewAt(to.sent.reviews - 1)] };
    await ask(room, KeptSchema, `/api/rehearsals/${to.id}/review`, body);
    to.answered.reviews++;
    if (to.sent.reviews % 4 === 0) await ask(room, RehearsalsSchema, '/api/rehearsals');
  }
}

/** Kills a host on a data folder so many times, and looks each time what became of it. `told` hears each. */
export async function killAgainAndAgain(
  data: string,
  kills: number,
  random: Random,
  told: (killed: Killed) => void = () => undefined,
): Promise<Killed[]> {
  const all: Killed[] = [];
  let room = await startRoom(data);
  try {
    for (let n = 0; n < kills; n++) {
      const during = (['rehearsing', 'reviewing', 'both'] as const)[n % 3] ?? 'both';
      const live = await begin(room);
      const over = await begin(room);
      await sendEvents(room, over, 0, [...events(0, REVIEWED), { type: 'ended', at: 99 }]);
      await sendSound(room, over, 0, PIECE);
      const after = random() * LATEST;
      const working = [
        ...(during === 'reviewing' ? [] : [rehearse(room, live)]),
        ...(during === 'rehearsing' ? [] : [review(room, over)]),
      ].map((work) => work.catch(() => undefined));
      await setTimeout(after);
      await kill(room.child);
      await Promise.all(working);
      room = await startRoom(data);
      const killed = { after, during, ...(await lookAt(room, live, over)) };
      all.push(killed);
      told(killed);
    }
    return all;
  } finally {
    await killAll();
  }
}

/** What became of the one that was rehearsed and the one that was reviewed. */
async function lookAt(
  room: StartedRoom,
  live: Sending,
  over: Sending,
): Promise<Omit<Killed, 'after' | 'during'>> {
  const kept = await read(room, live);
  const reviewed = await read(room, over);
  if (!kept || !reviewed)
    return { lostSeconds: NaN, lostEvents: NaN, broken: 1, unreadable: true, resumed: false };
  const reviews = reviewed.events.length - REVIEWED - 1;
  const broken = [
    kept.kept < live.answered.events,
    kept.samples < live.answered.samples,
    !isDeepStrictEqual(kept.events, events(0, kept.events.length)),
    !(await soundIs(room, live, kept.samples)),
    reviews < over.answered.reviews,
    !isDeepStrictEqual(
      reviewed.events.slice(REVIEWED + 1),
      Array.from({ length: Math.max(0, reviews) }, (_, n) => reviewAt(n)),
    ),
    !(await soundIs(room, over, PIECE)),
  ];
  return {
    lostSeconds: (live.sent.samples - kept.samples) / SOUND_RATE,
    lostEvents: live.sent.events - kept.kept + over.sent.reviews - reviews,
    broken: broken.filter(Boolean).length,
    // A last line that breaks off is told of, and what stands before it is there.
    unreadable: kept.faults.length > 0 || reviewed.faults.length > 0,
    resumed: await goOn(room, live, kept),
  };
}

const read = (room: StartedRoom, { id }: Sending): Promise<Rehearsal | null> =>
  ask(room, RehearsalSchema, `/api/rehearsals/${id}`).catch(() => null);

async function soundIs(room: StartedRoom, { id }: Sending, samples: number): Promise<boolean> {
  const wav = new Uint8Array(
    await (await fetch(new URL(`/api/rehearsals/${id}/sound`, room.url))).arrayBuffer(),
  );
  return Buffer.from(wav.subarray(44)).equals(Buffer.from(soundOf(0, samples)));
}

/** Goes on with a rehearsal in another window: sends what is missing, ends it and finds it ended in the list. */
async function goOn(room: StartedRoom, to: Sending, { kept, samples }: Rehearsal): Promise<boolean> {
  try {
    to.writer = (await ask(room, NewWriterSchema, `/api/rehearsals/${to.id}/writer`, {})).writer;
    const end = Math.max(kept, to.sent.events);
    await sendEvents(room, to, kept, [...events(kept, end), { type: 'ended', at: 77 }]);
    if (samples < to.sent.samples) await sendSound(room, to, samples, to.sent.samples);
    const found = (await ask(room, RehearsalsSchema, '/api/rehearsals')).find(({ id }) => id === to.id);
    return found?.state === 'ended' && found.seconds === 77;
  } catch {
    return false;
  }
}
