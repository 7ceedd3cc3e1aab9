import { randomUUID } from 'node:crypto';
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import path from 'node:path';
import { openLibrary } from '../../app/library/library.ts';
import type { RehearsalEvent, ReviewEvent } from '../../app/marking/events.ts';
import type { Trainee } from '../../app/people/trainee.ts';
import { headerLine } from '../../app/records/journal.ts';
import type { Header } from '../../app/records/header.ts';
import { encode } from '../../app/records/packing/flac.ts';
import { PACKED_FILE } from '../../app/records/packing/keptSound.ts';
import { JOURNAL_FILE } from '../../app/records/kept.ts';
import { SOUND_RATE } from '../../app/records/soundTrack.ts';
import { newWriter, WRITER_FILE } from '../../app/records/writer.ts';
import { randomFrom, type Random } from '../../app/skills/random.ts';
import { LEVELS, makeRuns, type MadeRun, type MadeRuns } from './runs.ts';

/**
 * A data folder as a school has it after a year: attempts of many trainees in several classes, some of them reviewed, some mock tests,
 * some broken off. The people and what they do are made up; each journal is a run of the core.
 */

/** Runs of each skill at each level where nothing else is asked for. */
const RUNS_EACH = 3;
/** Shares of the attempts that are mock tests, are reviewed, are broken off; and of a reviewer's verdicts that differ from a credit. */
const TESTS = 0.05;
const REVIEWED = 0.08;
const BROKEN_OFF = 0.03;
const DIFFERS = 0.05;

const CLASSES = 12;
/** A school year, in days from its first Monday. */
const FIRST_DAY = Date.parse('2025-09-01T07:00:00Z');
const DAYS = 290;
const DAY = 24 * 3_600_000;

/** Syllables that names are made of. */
const BEGINNINGS = [
  'Bel',
  'Dor',
  'Fen',
  'Gil',
  'Har',
  'Jor',
  'Kel',
  'Lor',
  'Mar',
  'Nel',
  'Per',
  'Ros',
  'Sel',
  'Tam',
  'Wil',
];
const ENDINGS = ['a', 'an', 'by', 'den', 'ie', 'in', 'la', 'lo', 'mi', 'na', 'o', 'ra', 'ric', 'sa', 'ta', 'vi', 'wen', 'ya', 'yn', 'zo']; // prettier-ignore

/** How large a school is. */
export interface SchoolSize {
  readonly attempts: number;
  readonly people: number;
  /** Runs of each skill at each level that the attempts are made of. */
  readonly runs?: number;
  /** Ids of the skills, hand washing and two more at least; all by default. */
  readonly skills?: readonly string[];
}

/** Makes such a folder, which must not hold any rehearsals yet. The same seed makes the same school, but for the ids of people. */
export async function makeSchool(
  folder: string,
  { attempts, people, runs: each = RUNS_EACH, skills }: SchoolSize,
  seed = 1,
): Promise<void> {
  const random = randomFrom(seed);
  const runs = await makeRuns(each, random, skills);
  const library = await openLibrary();
  const trainees = makePeople(people);
  mkdirSync(path.join(folder, 'rehearsals'), { recursive: true });
  writeFileSync(
    path.join(folder, 'people.json'),
    JSON.stringify({ trainees, keptDays: null, deleted: null }),
  );
  const silence = await secondOfSilence();
  for (let n = 0; n < attempts; n++) {
    const who = trainees[Math.floor(random() * trainees.length)];
    const day = Math.floor(DAYS * random());
    const run = draw(runs, levelOf(n % people, day / DAYS, random), random);
    const startedAt = new Date(FIRST_DAY + day * DAY + Math.floor(random() * 8 * 3600) * 1000).toISOString();
    const version = library.skills.get(run.skill)?.version ?? 1;
    const header: Header = {
      schema: 1,
      skill: run.skill,
      version,
      variants: { ...run.variants },
      style: 'coach',
      ...(run.form !== null && { form: run.form }),
      engine: 'moonshine/moonshine-tiny-en',
      startedAt,
      trainee: who?.id ?? null,
    };
    write(path.join(folder, 'rehearsals'), header, eventsOf(run, startedAt, random), silence);
  }
}

function makePeople(count: number): Trainee[] {
  return Array.from({ length: count }, (_, n) => {
    const [first, last] = [BEGINNINGS[n % 15] ?? '', ENDINGS[Math.floor(n / 15) % 20] ?? ''];
    return {
      id: randomUUID(),
      name: `${first}${last} ${String.fromCharCode(65 + (n % 26))}.`,
      class: `Class ${1 + (n % CLASSES)}`,
      consent: { agreed: true, text: 1, at: new Date(FIRST_DAY).toISOString() },
    };
  });
}

/** Abler with time, and some are abler from the start. */
const levelOf = (trainee: number, time: number, random: Random): number =>
  Math.min(LEVELS.length - 1, Math.floor(((trainee % 10) / 10 + 2 * time + random()) * (LEVELS.length / 4)));

function draw({ skills, single, tests }: MadeRuns, level: number, random: Random): MadeRun {
  const pick = <T>(from: readonly T[]): T | undefined => from[Math.floor(random() * from.length)];
  const skill = pick(skills) ?? '';
  const of = random() < TESTS ? tests[level] : single.get(skill)?.[level];
  const run = pick(of ?? []);
  if (!run) throw new Error(`There is no run of "${skill}" at level ${level}.`);
  return run;
}

/** The events of one attempt: of a run, some of them broken off, some of them reviewed. */
function eventsOf({ events }: MadeRun, startedAt: string, random: Random): RehearsalEvent[] {
  if (random() < BROKEN_OFF) return events.slice(0, Math.floor(events.length * (0.3 + 0.6 * random())));
  return random() < REVIEWED ? [...events, ...reviewOf(events, startedAt, random)] : [...events];
}

/** A person's verdicts on what the machine credited and doubted, and now and then another one; each skill signed off. */
function reviewOf(events: readonly RehearsalEvent[], startedAt: string, random: Random): ReviewEvent[] {
  const about = { by: 'R. Field', madeAt: new Date(Date.parse(startedAt) + DAY).toISOString() };
  const reviews: ReviewEvent[] = [];
  let skill = -1;
  for (const event of events) {
    if (event.type === 'began') skill++;
    if (event.type !== 'credited' && event.type !== 'doubted') continue;
    const agrees = random() >= DIFFERS;
    const verdict = (event.type === 'credited') === agrees ? 'yes' : 'no';
    const { step, evidence } = event;
    reviews.push({
      type: 'reviewed',
      ...about,
      skill,
      step,
      verdict,
      reason: '',
      heardAt: evidence.start,
      blind: random() < 0.5,
    });
  }
  for (let n = 0; n <= skill; n++) reviews.push({ type: 'signed off', ...about, skill: n });
  return reviews;
}

function write(root: string, header: Header, events: readonly RehearsalEvent[], sound: Uint8Array): void {
  const name = `${header.startedAt.replace(/[-:]|\.\d+/g, '')}-${header.skill}`;
  let folder = path.join(root, name);
  for (let n = 2; existsSync(folder); n++) folder = path.join(root, `${name}-${n}`);
  mkdirSync(folder);
  const lines = events.map((event) => `${JSON.stringify(event)}\n`);
  writeFileSync(path.join(folder, JOURNAL_FILE), headerLine(header) + lines.join(''));
  writeFileSync(path.join(folder, PACKED_FILE), sound);
  writeFileSync(path.join(folder, WRITER_FILE), newWriter().mark);
}

async function secondOfSilence(): Promise<Uint8Array> {
  const pieces: Uint8Array[] = [];
  const silence = async function* () {
    yield new Uint8Array(2 * SOUND_RATE);
  };
  for await (const piece of encode(silence(), SOUND_RATE)) pieces.push(piece);
  return Buffer.concat(pieces);
}
