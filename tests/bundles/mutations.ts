import { cp, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { unzipSync } from 'fflate';
import { attemptHash, entryOf, ManifestSchema, type Manifest } from '../../app/bundle/manifest.ts';
import { BundleRefused, type Reason } from '../../app/bundle/refused.ts';
import { Marker } from '../../app/records/marker.ts';
import { RehearsalIdSchema } from '../../app/records/header.ts';
import type { SkillFolder } from '../../app/library/skillFolder.ts';
import { randomFrom } from '../../app/skills/random.ts';
import {
  givenSkills,
  machine,
  NOW,
  openMachine,
  person,
  rehearsed,
  treeOf,
  verdict,
  type Machine,
} from './machine.ts';
import { sha256, zipped } from './made.ts';

/** Bundles and journals that were damaged or made up, and what becomes of each. */

type Random = (below: number) => number;

/** What a mutation changes: the file's bytes, its list, a journal in it whose hashes fit, or a journal in a data folder. */
export const KINDS = ['bytes', 'names and sizes', 'list', 'journal inside', 'journal kept'] as const;
export type Kind = (typeof KINDS)[number];
/** `unharmed`: what was taken in is what the whole bundle gives. `other`: it is something else that is right in itself. */
export type Fate = Reason | 'unharmed' | 'other';

/** A data folder with one rehearsal, and a bundle that brings its review and two more. */
export interface Start {
  readonly folder: string;
  readonly skills: SkillFolder;
  readonly marker: Marker;
  readonly bundle: Buffer;
  readonly journal: Buffer;
  /** What the data folder holds before, and after the bundle was taken in. */
  readonly before: Record<string, string>;
  readonly after: Record<string, string>;
  readonly remove: () => Promise<void>;
}

const DATA = 'data';
const BUNDLE = 'bundle.zip';
const KEPT = '20260201T093000Z-hand-washing';

export async function start(): Promise<Start> {
  const skills = await givenSkills();
  const from: Machine = await machine(skills);
  const folder = await mkdtemp(path.join(tmpdir(), 'sinkside-mutations-'));
  const kim = await person(from, 'Kim Quillfeather');
  await rehearsed(from, { trainee: kim.id });
  await from.rehearsals.pack(KEPT);
  await cp(from.data, path.join(folder, 'start'), { recursive: true });
  await rehearsed(from, { trainee: kim.id, startedAt: '2026-02-02T09:30:00Z' });
  await rehearsed(from, { startedAt: '2026-02-03T09:30:00Z' }, undefined, new Uint8Array(6000).fill(9));
  await from.rehearsals.addReview(KEPT, [verdict('greet')], NOW);
  const file = path.join(folder, BUNDLE);
  await from.carrier.make(file, { class: null, since: -Infinity });
  await from.remove();
  const bundle = await readFile(file);
  const journal = await readFile(path.join(folder, 'start', 'rehearsals', KEPT, 'journal.jsonl'));
  const fresh = {
    folder,
    skills,
    marker: new Marker(skills.library),
    bundle,
    journal,
    before: {},
    after: {},
    remove: () => rm(folder, { recursive: true }),
  };
  await restore(folder);
  const before = await treeOf(path.join(folder, DATA));
  await (await openMachine(path.join(folder, DATA), { skills })).carrier.takeIn(file);
  const after = await treeOf(path.join(folder, DATA));
  await restore(folder);
  return { ...fresh, before, after };
}

async function restore(folder: string): Promise<void> {
  await rm(path.join(folder, DATA), { recursive: true, force: true });
  await cp(path.join(folder, 'start'), path.join(folder, DATA), { recursive: true });
}

/** Longest that one may take, ms. */
const PATIENCE = 30_000;

/**
 * Makes the mutation of a number, and takes it in. Gives what became of it.
 *
 * @throws when the program fails otherwise than by a refusal, something is half taken in, or anything else changed
 */
export async function tryOne(from: Start, kind: Kind, seed: number): Promise<Fate> {
  const next = randomFrom(seed);
  const random: Random = (below) => Math.floor(next() * below);
  try {
    if (kind === 'journal kept') return await tryJournal(from, mutatedJournal(from.journal, random));
    await writeFile(path.join(from.folder, BUNDLE), mutated(from, kind, random));
    const fate = await tryBundle(from);
    // Bytes that the hashes do not cover say nothing that counts.
    if (fate === 'other' && (kind === 'bytes' || kind === 'names and sizes'))
      throw new Error('Damaged, and taken in as something else.');
    return fate;
  } catch (error) {
    await restore(from.folder);
    throw error;
  }
}

/** Takes in a bundle that was damaged, and looks at all that is there before and afterwards. */
async function tryBundle({ folder, skills, marker, before, after }: Start): Promise<Fate> {
  const data = path.join(folder, DATA);
  const outside = async (): Promise<string> =>
    (await readdir(folder, { recursive: true })).filter((name) => !name.startsWith(DATA)).join('\n');
  const around = await outside();
  const here = await openMachine(data, { skills });
  const taking = here.carrier.takeIn(path.join(folder, BUNDLE)).then(
    () => 'taken' as const,
    (error: unknown) => {
      if (error instanceof BundleRefused) return error.reason;
      throw error;
    },
  );
  const fate = await within(PATIENCE, taking);
  const tree = await treeOf(data);
  if ((await outside()) !== around) throw new Error('Something was written outside the data folder.');
  if (fate !== 'taken') {
    if (!isSame(tree, before)) throw new Error(`Refused (${fate}), and something changed.`);
    return fate;
  }
  await markAll(here, marker);
  checkNames(tree);
  if (!isSame(tree, before)) await restore(folder);
  return isSame(tree, after) ? 'unharmed' : 'other';
}

/** Marks all that is kept, as a list of it does. */
async function markAll({ rehearsals }: Pick<Machine, 'rehearsals'>, marker: Marker): Promise<void> {
  for (const id of await rehearsals.ids()) marker.summarise(id, await rehearsals.read(id));
}

/** Reads a journal that was damaged where it is kept. */
async function tryJournal({ folder, skills, marker }: Start, journal: Buffer): Promise<Fate> {
  const data = path.join(folder, DATA);
  await writeFile(path.join(data, 'rehearsals', KEPT, 'journal.jsonl'), journal);
  const { rehearsals } = await openMachine(data, { skills });
  await within(PATIENCE, markAll({ rehearsals }, marker));
  await restore(folder);
  return 'other';
}

function mutated({ bundle }: Start, kind: Kind, random: Random): Buffer {
  if (kind === 'bytes') return mutatedBytes(bundle, random);
  if (kind === 'names and sizes') return mutatedHeaders(bundle, random);
  const files = unzipSync(bundle);
  const { 'manifest.json': list = new Uint8Array(), ...rest } = files;
  if (kind === 'list') return zipped(mutatedJson(JSON.parse(Buffer.from(list).toString()), random), rest);
  const manifest: Manifest = ManifestSchema.parse(JSON.parse(Buffer.from(list).toString()));
  const attempts = manifest.attempts.map((attempt) => {
    const entry = entryOf(attempt.record, 'journal.jsonl');
    const journal = mutatedJournal(Buffer.from(rest[entry] ?? []), random);
    rest[entry] = Uint8Array.from(journal);
    const carried = attempt.files.map((each) =>
      each.path === 'journal.jsonl' ? { ...each, bytes: journal.length, sha256: sha256(journal) } : each,
    );
    return { ...attempt, files: carried, sha256: attemptHash(carried) };
  });
  return zipped({ ...manifest, attempts }, rest);
}

/** Bits flipped, the end cut off, a piece taken out, put in twice, or put over another. */
function mutatedBytes(bytes: Buffer, random: Random): Buffer {
  const [at, length] = [random(bytes.length), 1 + random(random(4) === 0 ? bytes.length : 64)];
  const piece = bytes.subarray(at, at + length);
  switch (random(5)) {
    case 0: {
      const flipped = Buffer.from(bytes);
      for (let n = random(8); n >= 0; n--) {
        const where = random(bytes.length);
        flipped.writeUInt8(flipped.readUInt8(where) ^ (1 << random(8)), where);
      }
      return flipped;
    }
    case 1:
      return bytes.subarray(0, at);
    case 2:
      return Buffer.concat([bytes.subarray(0, at), bytes.subarray(at + length)]);
    case 3: {
      const to = random(bytes.length);
      return Buffer.concat([bytes.subarray(0, to), piece, bytes.subarray(to)]);
    }
    default: {
      const spliced = Buffer.from(bytes);
      piece.copy(spliced, random(bytes.length));
      return spliced;
    }
  }
}

const NAMES = [
  '../',
  '..\\',
  '/',
  'C:',
  './',
  '\0',
  'MANIFEST.JSON',
  'manifest.json',
  'attempts/',
  'Journal.jsonl',
  'nul',
  '.new-',
];

/** An entry's name in part replaced in the ZIP's headers, or one of their numbers (PKWARE's APPNOTE 6.3.9, sections 4.3.7, 4.3.12, 4.3.16). */
function mutatedHeaders(bytes: Buffer, random: Random): Buffer {
  const other = Buffer.from(bytes);
  const starts = ['PK\x03\x04', 'PK\x01\x02', 'PK\x05\x06'].flatMap((mark) => placesOf(bytes, mark));
  const start = starts[random(starts.length)] ?? 0;
  const isListed = bytes.readUInt8(start + 2) === 1;
  if (random(2) === 0) {
    const field = 4 + 2 * random(21);
    const values = [0, 1, 0xff, 0xffff, 0x7fff, random(0x10000)];
    other.writeUInt16LE(values[random(values.length)] ?? 0, Math.min(start + field, bytes.length - 2));
    return other;
  }
  const nameAt = start + (isListed ? 46 : 30);
  const name = NAMES[random(NAMES.length)] ?? '';
  other.write(name, Math.min(nameAt + random(40), bytes.length - name.length), 'latin1');
  return other;
}

function placesOf(bytes: Buffer, mark: string): number[] {
  const places: number[] = [];
  for (let at = bytes.indexOf(mark, 0, 'latin1'); at >= 0; at = bytes.indexOf(mark, at + 1, 'latin1'))
    places.push(at);
  return places;
}

const VALUES: readonly unknown[] = [
  null, true, -1, 0, 1e21, 2 ** 53, 0.5, '', '../x', '/etc/x', 'C:\\x', 'con', '\0', '__proto__', 'a'.repeat(5000), '2026-02-30T00:00:00Z',
  '9999-12-31T23:59:59Z', '20260201T093000Z-hand-washing', '20260201T093000Z-hand-washing-2', [], {}, [[]], { __proto__: null }, 'journal.jsonl',
]; // prettier-ignore

/** One value of a JSON document put in the place of another, left out, or doubled. */
function mutatedJson(document: unknown, random: Random): unknown {
  const places: { readonly holder: Record<string, unknown>; readonly key: string }[] = [];
  const collect = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return;
    const holder = value as Record<string, unknown>;
    for (const key of Object.keys(holder)) {
      places.push({ holder, key });
      collect(holder[key]);
    }
  };
  collect(document);
  const place = places[random(places.length)];
  if (!place) return document;
  const { holder, key } = place;
  const value = VALUES[random(VALUES.length)];
  const what = random(4);
  if (what === 0 && Array.isArray(holder)) holder.push(holder[random(holder.length)]);
  else if (what === 1) Reflect.deleteProperty(holder, key);
  else if (what === 2) holder[`${key}x`] = value;
  else holder[key] = value;
  return document;
}

/** A journal damaged as bytes, as lines, or in a value of a line. */
function mutatedJournal(journal: Buffer, random: Random): Buffer {
  const lines = journal.toString('latin1').split('\n');
  const n = random(lines.length);
  const line = lines[n] ?? '';
  switch (random(4)) {
    case 0:
      return mutatedBytes(journal, random);
    case 1:
      lines.splice(n, 1, ...(random(2) === 0 ? [] : [line, line]));
      return Buffer.from(lines.join('\n'), 'latin1');
    case 2:
      lines.splice(random(lines.length), 0, line);
      return Buffer.from(lines.join('\n'), 'latin1');
    default:
      lines[n] = line === '' ? '{}' : JSON.stringify(mutatedJson(JSON.parse(line), random));
      return Buffer.from(lines.join('\n'), 'latin1');
  }
}

/** That there is nothing but whole rehearsals, and the files of the data folder. */
function checkNames(tree: Record<string, string>): void {
  for (const name of Object.keys(tree)) {
    if (name === 'people.json') continue;
    const [root, id = '', file, ...more] = name.split('/');
    const isKnown =
      file === undefined || ['journal.jsonl', 'sound.wav', 'sound.flac', 'keep-until'].includes(file);
    if (root !== 'rehearsals' || !RehearsalIdSchema.safeParse(id).success || !isKnown || more.length > 0)
      throw new Error(`There is something that should not be: ${name}`);
    if (tree[`rehearsals/${id}/journal.jsonl`] === undefined) throw new Error(`${id} has no journal.`);
  }
}

const isSame = (one: Record<string, string>, other: Record<string, string>): boolean =>
  Object.keys(one).length === Object.keys(other).length &&
  Object.entries(one).every(([name, content]) => other[name] === content);

async function within<T>(ms: number, work: Promise<T>): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, failed) => {
    timer = setTimeout(() => failed(new Error(`Not done after ${ms} ms.`)), ms);
  });
  return Promise.race([work, late]).finally(() => clearTimeout(timer));
}
