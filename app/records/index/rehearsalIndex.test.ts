import { mkdtemp, readdir, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { openLibrary, type Library } from '../../library/library.ts';
import type { RehearsalEvent, ReviewEvent } from '../../marking/events.ts';
import { attemptsIn } from '../../progress/keptAttempt.ts';
import { attemptOf } from '../../progress/attempt.ts';
import { judgedIn } from '../judged.ts';
import { Rehearsals } from '../rehearsals.ts';
import type { Reading } from './rehearsalIndex.ts';

const evidence = { utterance: 0, text: 'good morning', start: 1, end: 2, score: 1 };
const EVENTS: RehearsalEvent[] = [
  { type: 'began', skill: 'hand-washing', variants: { tap: 'lever' } },
  { type: 'credited', step: 'greet', evidence },
  { type: 'ended', at: 9 },
];
const NO: ReviewEvent = {
  type: 'reviewed',
  by: 'R. Field',
  madeAt: '2026-02-01T10:00:00.000Z',
  skill: 0,
  step: 'greet',
  verdict: 'no',
  reason: '',
  heardAt: null,
  blind: false,
};

let data = '';
let library: Library;
let rehearsals: Rehearsals;
beforeAll(async () => {
  library = await openLibrary();
});
beforeEach(async () => {
  data = await mkdtemp(path.join(tmpdir(), 'sinkside-index-'));
  rehearsals = new Rehearsals(data, library);
});
afterEach(async () => {
  await rehearsals.close();
  await rm(data, { recursive: true });
});

async function keep(startedAt: string, only?: string[]): Promise<string> {
  const begun = { skill: 'hand-washing', variants: {}, style: 'coach', engine: 'test', startedAt, ...(only && { only }) } as const; // prettier-ignore
  const { id, writer } = await rehearsals.create(begun);
  await rehearsals.addEvents(id, 0, EVENTS, writer);
  return id;
}

describe('the index', () => {
  it('holds each attempt as it is, without its journal being read', async () => {
    const id = await keep('2026-01-31T09:30:00.000Z');
    await keep('2026-01-31T09:31:00.000Z', ['greet']);
    await rehearsals.addReview(id, [NO]);
    const [part, whole] = await rehearsals.entries();
    expect(part).toMatchObject({ isReviewed: false, attempts: [] });
    expect(whole).toMatchObject({ isReviewed: true });
    const kept = await rehearsals.read(id);
    const about = { id, startedAt: kept.header.startedAt, trainee: null };
    const skill = library.skills.get('hand-washing')!;
    const [judged] = judgedIn(kept, library);
    const [attempt] = attemptsIn({
      versions: [skill],
      attempts: [{ ...about, ...whole!.attempts[0]!.byPerson! }],
    });
    expect(attempt).toEqual(attemptOf(about, judged!.checklist, judged!.state, judged!.review));
    expect(attempt?.steps.find(({ step }) => step === 'greet')?.credited).toBe(false);
    expect(whole?.attempts[0]?.byMachine.steps['greet']).toBe(true);
  });

  it('is kept by month, and one that becomes empty goes', async () => {
    const [, february] = [await keep('2026-01-31T09:30:00Z'), await keep('2026-02-01T09:30:00Z')];
    await rehearsals.list();
    const files = async (): Promise<string[]> =>
      (await readdir(path.join(data, 'rehearsals'))).filter((name) => name.startsWith('index')).sort();
    expect(await files()).toEqual(['index-202601.json', 'index-202602.json']);
    await rehearsals.delete(february, '');
    expect(await files()).toEqual(['index-202601.json']);
  });

  it('tells how far it is while it is made anew, and answers with what it knows meanwhile', async () => {
    for (let n = 0; n < 9; n++) await keep(`2026-01-31T09:30:0${n}Z`);
    const before = await rehearsals.list();
    const told: Reading[] = [];
    const rebuilding = rehearsals.rebuild((reading) => told.push(reading));
    const { entries, reading } = await rehearsals.glance(0);
    expect([reading?.of, entries.length < 9]).toEqual([expect.toBeOneOf([0, 9]), true]);
    expect(await rebuilding).toEqual(before);
    expect(told).toEqual(Array.from({ length: 9 }, (_, done) => ({ done, of: 9 })));
    expect(await rehearsals.glance()).toMatchObject({ entries: { length: 9 }, reading: null });
  });

  it('stops where the program ends meanwhile, and what was read is not read again', async () => {
    for (let n = 0; n < 9; n++) await keep(`2026-01-31T09:30:0${n}Z`);
    let isClosing: Promise<void> | null = null;
    await rehearsals.rebuild(({ done }) => {
      if (done === 3) isClosing = rehearsals.close();
    });
    await isClosing;
    const told: Reading[] = [];
    const next = new Rehearsals(data, library);
    expect(await next.list((reading) => told.push(reading))).toHaveLength(9);
    expect(told.length).toBeLessThan(9);
    expect(told[0]?.done).toBeGreaterThan(2);
  });
});
