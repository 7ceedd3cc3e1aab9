import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { openLibrary } from '../../app/library/library.ts';
import type { RehearsalEvent } from '../../app/marking/events.ts';
import { Rehearsals } from '../../app/records/rehearsals.ts';
import { middle, timed, type Figures } from './figures.ts';

/** How many events a journal has when one more is added. */
const LENGTHS = [10, 100, 1000, 10_000];
/** Appends of which the middle one counts. */
const APPENDS = 101;
/** What the middle append to the longest journal may cost, in those to the shortest: the disk itself varies by a third. */
const MOST_RATIO = 1.5;

const event = (n: number): RehearsalEvent => ({
  type: 'credited',
  step: 'greet',
  evidence: { utterance: n, text: `saying ${n} `.repeat(20), start: n, end: n, score: 1 },
});

/** What one event more costs, on disk when it is acknowledged, by how many there are; and the same of a review. */
export async function measureAppends(figures: Figures): Promise<void> {
  const data = await mkdtemp(path.join(tmpdir(), 'sinkside-appends-'));
  const rehearsals = new Rehearsals(data, await openLibrary());
  const journals: { id: string; writer: string; length: number; took: number[] }[] = [];
  for (const length of LENGTHS) {
    const created = await rehearsals.create({ skill: 'hand-washing', variants: {}, style: 'coach', engine: 'test', startedAt: '2026-01-31T09:30:00Z' }); // prettier-ignore
    const events = Array.from({ length }, (_, n) => event(n));
    await rehearsals.addEvents(created.id, 0, events, created.writer);
    journals.push({ ...created, length, took: [] });
  }
  // In turns, so that whatever else the machine does falls on all alike.
  for (let n = 0; n < APPENDS; n++)
    for (const { id, writer, length, took } of journals)
      took.push(await timed(() => rehearsals.addEvents(id, length + n, [event(n)], writer)));
  for (const { length, took } of journals)
    figures.add(`one event more to ${length} (middle of ${APPENDS})`, middle(took), 'ms');
  const [shortest = NaN, longest = NaN] = [journals.at(0), journals.at(-1)].map((each) =>
    middle(each?.took ?? []),
  );
  figures.add('  the longest against the shortest', longest / shortest, '×', MOST_RATIO);
  await rehearsals.close();
  await rm(data, { recursive: true });
}
