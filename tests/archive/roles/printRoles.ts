/**
 * Who reaches what in an archive, tried on a PostgreSQL server of its own: `npx tsx tests/archive/roles/printRoles.ts`. Each table by every role, as
 * rows seen/changed/deleted, and each endpoint by everybody who can ask, as the status of the answer.
 */
import { routesOf } from '../../../app/archive/serving/app.ts';
import { hashOf } from '../../../app/archive/serving/secrets.ts';
import { serveArchive } from '../../../app/archive/serving/server.ts';
import { DATABASES } from '../databases.ts';
import { uuid } from '../made.ts';
import { reachOf, tablesOf, type Trier } from './roleTable.ts';
import { twoSchools, type TwoSchools } from '../twoSchools.ts';

/** Nobody is slowed down. */
const WIDE = { atOnce: 100_000, perSecond: 100_000 };

const row = (first: string, cells: readonly string[]): string =>
  `${first.padEnd(32)}${cells.map((cell) => cell.padEnd(12)).join('')}`.trimEnd();

async function tables({ archive, trainee, instructor, school, station }: TwoSchools): Promise<string[]> {
  const triers: Readonly<Record<string, Trier>> = {
    trainee: trainee.who,
    instructor: instructor.who,
    school: school.who,
    station: station.who,
    door: { role: 'door', secretSha256: hashOf(trainee.token) },
    worker: { role: 'worker' },
    keeper: { role: 'keeper' },
    'no role': 'nobody',
  };
  const lines = [row('table', Object.keys(triers))];
  for (const table of await tablesOf(archive)) {
    const cells: string[] = [];
    for (const who of Object.values(triers))
      cells.push(Object.values(await reachOf(archive, who, table)).join('/'));
    lines.push(row(table, cells));
  }
  return lines;
}

async function endpoints(schools: TwoSchools, url: string): Promise<string[]> {
  const { trainee, instructor, school, station } = schools;
  const tokens = {
    trainee,
    instructor,
    school,
    station,
    'no token': null,
    'wrong token': { token: 'x'.repeat(43) },
  };
  const lines = [row('endpoint', Object.keys(tokens))];
  for (const { method, path } of routesOf(schools)) {
    // Of nobody: so nothing is changed.
    const address = new URL(path.replace(':id', path.includes('/attempts') ? '9999999' : uuid(999)), url);
    const cells: string[] = [];
    for (const someone of Object.values(tokens)) {
      const headers = someone ? { authorization: `Bearer ${someone.token}` } : {};
      cells.push(String((await fetch(address, { method, headers })).status));
    }
    lines.push(row(`${method} ${path}`, cells));
  }
  return lines;
}

const [, server] = DATABASES;
if (!server) throw new Error('There is no server to try it on.');
const databases = await server.start();
const schools = await twoSchools(await databases.open());
const limits = { address: WIDE, token: WIDE, wrong: WIDE };
const served = await serveArchive(schools, { port: 0, limits, warn: console.error });
try {
  console.log([...(await tables(schools)), '', ...(await endpoints(schools, served.url))].join('\n'));
} finally {
  await served.close();
  await databases.end();
  await schools.end();
}
