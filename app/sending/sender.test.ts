import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { ArchiveAway, KeyRefused, type Archive } from './archiveClient.ts';
import { EnrolmentFile } from './enrolment.ts';
import { waitAfter } from './retry.ts';
import { Sender, type StationWithoutLog } from './sender.ts';

const MINUTE = 60_000;
let data = '';
/** What the archive does when it is asked; how often it was. */
let answers: () => void = () => undefined;
let contacts = 0;
let warnings: string[] = [];
let sender: Sender;

const station: StationWithoutLog = {
  here: () => Promise.resolve([]),
  trainees: () => Promise.resolve([]),
  packed: () => Promise.resolve(null),
  delete: () => Promise.resolve(),
  gone: () => Promise.resolve([]),
  forgetGone: () => Promise.resolve(),
  noteGone: () => Promise.resolve(),
  tidy: () => Promise.resolve(),
  now: Date.now,
};
const archive: Archive = {
  contact: async () => {
    contacts += 1;
    answers();
    return { station: 'Sink 4', school: 'School of the Hill', deletions: [] };
  },
  send: () => expect.fail('there is nothing to send'),
  tellGone: () => Promise.resolve(),
};

beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-sender-'));
  answers = () => undefined;
  contacts = 0;
  warnings = [];
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'Date'] });
  sender = new Sender(data, station, {
    connect: () => archive,
    warn: (message) => warnings.push(message),
    random: () => 0.5,
  });
});
afterEach(async () => {
  await sender.stop();
  vi.useRealTimers();
  await rm(data, { recursive: true });
});

const enrol = (): Promise<void> =>
  new EnrolmentFile(data).write({
    address: 'https://archive.school.example',
    school: 'School of the Hill',
    station: { id: '0b6f7c52-8f0e-4d8e-9f9c-3f6f2f1c2a10', name: 'Sink 4' },
    key: 'a secret',
    enrolledAt: '2026-01-31T09:30:00.000Z',
    isOn: true,
    revoked: null,
  });

/** Lets time pass, and the round end that has begun then. */
async function pass(ms: number): Promise<void> {
  await vi.advanceTimersByTimeAsync(ms);
  await sender.settled();
}

describe('a sender', () => {
  it('does nothing at all while no archive is set', async () => {
    sender.start();
    await pass(60 * MINUTE);
    sender.changed();
    await pass(60 * MINUTE);
    expect(contacts).toBe(0);
    expect(await readdir(data)).toEqual([]);
    expect(await sender.standing()).toBeNull();
    expect(await sender.school()).toBeNull();
  });

  it('asks the archive now and then, and a minute after the last change', async () => {
    await enrol();
    sender.start();
    await pass(MINUTE);
    expect(contacts).toBe(1);
    await pass(10 * MINUTE);
    expect(contacts).toBe(2);
    for (let n = 0; n < 3; n++) {
      sender.changed();
      await pass(MINUTE / 2);
    }
    expect(contacts).toBe(2);
    await pass(MINUTE / 2);
    expect(contacts).toBe(3);
  });

  it('waits longer after each failure, tells why once, and goes on when the archive is back', async () => {
    await enrol();
    answers = () => {
      throw new ArchiveAway('archive.school.example cannot be reached.');
    };
    sender.start();
    await pass(MINUTE);
    expect(contacts).toBe(1);
    for (const minutes of [1, 2, 4]) {
      await pass(minutes * MINUTE);
      sender.changed();
    }
    expect(contacts).toBe(4);
    expect(warnings).toEqual([expect.stringMatching(/cannot be reached/)]);
    expect(await sender.standing()).toMatchObject({ trouble: expect.stringMatching(/cannot be reached/) });
    answers = () => undefined;
    await pass(8 * MINUTE);
    expect(contacts).toBe(5);
    expect(await sender.standing()).toMatchObject({ trouble: null, nextAt: expect.any(String) });
  });

  it('stops when its key is refused, and says so', async () => {
    await enrol();
    answers = () => {
      throw new KeyRefused('This station was revoked.');
    };
    sender.start();
    await pass(MINUTE);
    await pass(24 * 60 * MINUTE);
    expect(contacts).toBe(1);
    expect(await sender.standing()).toMatchObject({ revoked: 'This station was revoked.', nextAt: null });
    expect(await sender.sendNow()).toBeNull();
    answers = () => undefined;
    expect(await sender.sendNow({ again: true })).toEqual({ sent: 0, nextDue: null });
    expect(await sender.standing()).toMatchObject({ revoked: null });
  });

  it('asks nothing while sending is turned off, and leaves nothing of an archive that is left', async () => {
    await enrol();
    await sender.setOn(false);
    sender.start();
    await pass(60 * MINUTE);
    expect(contacts).toBe(0);
    expect(await sender.school()).toBeNull();
    await sender.setOn(true);
    await pass(MINUTE);
    expect(contacts).toBe(1);
    expect(await sender.school()).toBe('School of the Hill');
    await sender.leave();
    await pass(60 * MINUTE);
    expect(contacts).toBe(1);
    expect(await readdir(data)).toEqual([]);
  });
});

describe('the wait after failures', () => {
  it('doubles up to an hour, give or take a quarter', () => {
    expect([1, 2, 3, 7, 20].map((failures) => waitAfter(failures, 0.5) / MINUTE)).toEqual([1, 2, 4, 60, 60]);
    expect(waitAfter(1, 0)).toBe(0.75 * MINUTE);
    expect(waitAfter(1, 1)).toBe(1.25 * MINUTE);
  });
});
