import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { FileParts } from '../../../app/archive/parts/fileParts.ts';
import { serveArchive, type ArchiveServer } from '../../../app/archive/serving/server.ts';
import type { Archive } from '../../../app/archive/store/connection.ts';
import { keepProgramSkills } from '../../../app/archive/taking/programSkills.ts';
import { SchoolLibraries } from '../../../app/archive/taking/schoolLibrary.ts';
import type { Taking } from '../../../app/archive/taking/takeIn.ts';
import { openLibrary } from '../../../app/library/library.ts';
import { DATABASES, PATIENTLY, type TestDatabases } from '../databases.ts';
import { madeSound, playedNarrations, type Rehearsed } from './rehearsed.ts';
import { shakyLine } from './shakyLine.ts';
import { enter, newCounts, runStation, wrongIn } from './simulation.ts';

let played: Rehearsed[] = [];
let sounds: Buffer[] = [];
beforeAll(async () => {
  played = await playedNarrations(3);
  sounds = await Promise.all([1, 2, 3].map((seed) => madeSound(1, seed)));
}, PATIENTLY);

/** The same numbers each time, spread over 0 to 1. */
function counted(): () => number {
  let n = 0;
  return () => (n++ * 0.618_034) % 1;
}

describe.each(DATABASES)('stations that send to an archive on $name', ({ start }) => {
  let databases: TestDatabases;
  let store: Archive;
  let server: ArchiveServer;
  let folder = '';
  let taking: Taking;
  const warnings: string[] = [];
  beforeAll(async () => {
    folder = await mkdtemp(path.join(tmpdir(), 'sinkside-stations-'));
    databases = await start();
    store = await databases.open();
    const library = await openLibrary();
    await keepProgramSkills(store, library);
    taking = {
      archive: store,
      parts: new FileParts(path.join(folder, 'parts')),
      libraries: new SchoolLibraries(library),
    };
    server = await serveArchive(taking, { port: 0, warn: (message) => warnings.push(message) });
  }, PATIENTLY);
  afterAll(async () => {
    await server.close();
    await databases.end();
    await rm(folder, { recursive: true, force: true });
  }, PATIENTLY);

  it('lose nothing and bring nothing twice over lines that break off, with lost logs, reviews and old copies', async () => {
    const random = counted();
    const stations = await enter(
      store,
      { schools: 2, stations: 6, attempts: 24, soundEach: 3 },
      played,
      sounds,
    );
    const line = await shakyLine(server.port, '127.0.0.2', { share: 0.5, within: 30_000, random });
    const counts = newCounts();
    const mishaps = { lostLog: 0.5, reviewed: 0.3, random };
    await Promise.all(stations.map((station) => runStation(station, line.address, folder, mishaps, counts)));
    expect(line.broken()).toBeGreaterThan(0);
    expect(counts.brokenOff).toBeGreaterThan(0);
    await line.close();
    expect(await wrongIn(store, taking.parts, stations)).toEqual([]);
    // What was answered as taken was so once; the answer to some came only when they were sent again.
    expect(counts.said.taken).toBeLessThanOrEqual(24);
    expect(counts.said.replaced).toBeGreaterThan(0);
    expect(counts.said.already).toBeGreaterThan(0);
    expect(counts.said.refused).toBe(0);
  });
});
