import { mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import {
  JOURNAL,
  listed,
  manifestOf,
  RECORD,
  renamed,
  right,
  sha256,
  SOUND,
  zipped,
} from '../../tests/bundles/made.ts';
import { attemptHash, entryOf, ManifestSchema, type CarriedAttempt } from './manifest.ts';
import { openBundle } from './read.ts';
import { BundleRefused, type Reason } from './refused.ts';
import { ChangedMeanwhile, writeBundle, type AttemptToCarry } from './write.ts';

let folder = '';
const file = (): string => path.join(folder, 'some.sinkside.zip');
beforeEach(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-bundle-'));
});
afterEach(() => rm(folder, { recursive: true }));

const KIM = {
  id: '7f0c2f3e-2b51-4a08-9d6e-0d4f5b1c9a11',
  name: 'Kim Quillfeather',
  class: 'Spring',
  consent: { agreed: true, text: 1, at: '2026-01-05T10:00:00.000Z' },
};
const attempt = (record: string, journal: Uint8Array, sound: Uint8Array | null): AttemptToCarry => ({
  record,
  trainee: KIM,
  keepUntil: '2026-05-01T00:00:00.000Z',
  files: [
    { path: 'journal.jsonl', content: journal },
    ...(sound ? [{ path: 'sound.flac' as const, content: sound }] : []),
  ],
});
const JOURNAL_ENTRY = entryOf(RECORD, 'journal.jsonl');
const SOUND_ENTRY = entryOf(RECORD, 'sound.flac');
const FILES = { [JOURNAL_ENTRY]: JOURNAL, [SOUND_ENTRY]: SOUND };

describe('a bundle', () => {
  it('gives back what was put into it, whatever that was', async () => {
    const bytes = fc.uint8Array({ maxLength: 3000 });
    const attempts = fc.uniqueArray(fc.tuple(fc.integer({ min: 0, max: 99 }), bytes, fc.option(bytes)), {
      selector: ([n]) => n,
      maxLength: 6,
    });
    await fc.assert(
      fc.asyncProperty(attempts, async (some) => {
        const put = some.map(([n, journal, sound]) => attempt(`${RECORD}-${n}`, journal, sound));
        const skills = [
          { id: 'own-skill', version: 2, source: 'id: own-skill\n', slots: { bed: ['bed', 'cot'] } },
        ];
        const written = await writeBundle(file(), put, skills, 0);
        const bundle = await openBundle(file());
        expect(bundle.manifest).toEqual(written);
        expect(bundle.manifest.skills).toEqual(skills);
        await bundle.verify();
        for (const { record, files } of put)
          for (const { path: name, content } of files)
            expect((await bundle.read(entryOf(record, name))).equals(content as Uint8Array)).toBe(true);
        await bundle.close();
      }),
      { numRuns: 25 },
    );
  });

  it('takes the first so many bytes of a file that grows, and lists who rehearsed and until when it is kept', async () => {
    const growing = path.join(folder, 'journal.jsonl');
    await writeFile(growing, JOURNAL);
    const content = { file: growing, bytes: 19 };
    const carried = {
      ...attempt(RECORD, JOURNAL, null),
      files: [{ path: 'journal.jsonl', content } as const],
    };
    const { attempts } = await writeBundle(file(), [carried], []);
    expect(attempts).toMatchObject([{ record: RECORD, trainee: KIM, keepUntil: '2026-05-01T00:00:00.000Z' }]);
    const bundle = await openBundle(file());
    expect(await bundle.read(JOURNAL_ENTRY)).toEqual(JOURNAL.subarray(0, 19));
    await bundle.close();
  });

  it('is not made where a file changes or goes away meanwhile, and leaves nothing behind', async () => {
    const sound = path.join(folder, 'sound.flac');
    const changing = async function* () {
      await writeFile(sound, SOUND);
      yield { ...attempt(RECORD, JOURNAL, null), files: [{ path: 'sound.flac', content: { file: sound, bytes: 9 } }, { path: 'journal.jsonl', content: JOURNAL }] } as const;
      await writeFile(sound, 'something else');
    }; // prettier-ignore
    await expect(writeBundle(file(), changing(), [])).rejects.toThrow(ChangedMeanwhile);
    const leaving = async function* () {
      yield* changing();
      await rm(sound);
    };
    await expect(writeBundle(file(), leaving(), [])).rejects.toThrow(ChangedMeanwhile);
    expect(await readdir(folder)).toEqual([]);
  });

  it('has hashes of attempts that depend on the files alone', () => {
    const [journal, sound] = listed().files;
    if (!journal || !sound) throw new Error('It has two files.');
    expect(attemptHash([journal, sound])).toBe(attemptHash([sound, journal]));
    expect(attemptHash([journal])).not.toBe(attemptHash([journal, sound]));
    // Computed by `printf 'journal.jsonl %064d\n' 0 | sha256sum`.
    expect(attemptHash([{ path: 'journal.jsonl', sha256: '0'.repeat(64) }])).toBe(
      sha256(Buffer.from(`journal.jsonl ${'0'.repeat(64)}\n`)),
    );
  });
});

async function refusal(bytes: Buffer): Promise<Reason | 'taken'> {
  await writeFile(file(), bytes);
  try {
    const bundle = await openBundle(file());
    await bundle.verify().finally(() => bundle.close());
    return 'taken';
  } catch (error) {
    if (error instanceof BundleRefused) return error.reason;
    throw error;
  }
}

const one = listed();
const withFile = (change: object): CarriedAttempt => {
  const files = one.files.map((each, i) => (i === 0 ? { ...each, ...change } : each));
  return { ...one, files, sha256: attemptHash(files) };
};
const zeros = Buffer.alloc(1 << 20);

describe('a bundle is refused', () => {
  it('only where something is wrong with it', async () => {
    expect(await refusal(right())).toBe('taken');
    expect(await refusal(zipped(manifestOf([]), {}))).toBe('taken');
  });

  it.each<[Reason, string, () => Buffer]>([
    ['not a bundle', 'an empty file', () => Buffer.alloc(0)],
    ['not a bundle', 'some other file', () => Buffer.from('%PDF-1.7 and so on')],
    ['not a bundle', 'a ZIP file of something else', () => renamed(right(), 'manifest.json', 'manifest.jsom')],
    ['not a bundle', 'a manifest that is no JSON', () => zipped('{', {})],
    ['not a bundle', 'a manifest of something else', () => zipped({ ...manifestOf([]), format: 'other' }, {})],
    ['newer', 'a version to come', () => zipped({ ...manifestOf([]), version: 2, attempts: 'elsewhere' }, {})],
    ['bad manifest', 'a version that never was', () => zipped({ ...manifestOf([]), version: 0 }, {})],
    ['bad manifest', 'a field too many', () => zipped({ ...manifestOf([]), more: 1 }, {})],
    ['bad manifest', 'an attempt twice', () => zipped(manifestOf([one, one]), FILES)],
    ['bad manifest', 'an attempt without a journal', () => zipped(manifestOf([{ ...one, files: one.files.slice(1) }]), FILES)],
    ['bad manifest', 'the id of a record that leads elsewhere', () => zipped(manifestOf([{ ...one, record: '../../x' }]), FILES)],
    ['bad manifest', 'a file with a path', () => zipped(manifestOf([withFile({ path: '../journal.jsonl' })]), FILES)],
    ['bad manifest', 'a journal beyond the limit', () => zipped(manifestOf([withFile({ bytes: 2 ** 30 })]), FILES)],
    ['truncated', 'the end cut off', () => right().subarray(0, -1)],
    ['truncated', 'the latter half cut off', () => right().subarray(0, 2000)],
    ['tampered', 'a file changed', () => renamed(right(), SOUND.toString('latin1', 100, 110), 'otherwords')],
    ['tampered', 'another hash of a file', () => zipped(manifestOf([withFile({ sha256: '0'.repeat(64) })]), FILES)],
    ['tampered', 'another hash of an attempt', () => zipped(manifestOf([{ ...one, sha256: '0'.repeat(64) }]), FILES)],
    ['tampered', 'another size of a file', () => zipped(manifestOf([withFile({ bytes: 5 })]), FILES)],
    ['tampered', 'a file that is missing', () => zipped(manifestOf([one]), { [JOURNAL_ENTRY]: JOURNAL })],
    ['tampered', 'a file that unpacks to more than it says', () => bomb()],
    ['unexpected entry', 'a file that is not listed', () => zipped(manifestOf([listed(RECORD, JOURNAL, null)]), FILES)],
    ['unexpected entry', 'a file of another name', () => zipped(manifestOf([one]), { ...FILES, 'README.txt': JOURNAL })],
    ['unexpected entry', 'a name in another case', () => renamed(right(), 'sound.flac', 'Sound.flac')],
    ['unexpected entry', 'a folder', () => zipped(manifestOf([one]), { ...FILES, 'attempts/': new Uint8Array() })],
    ['duplicate entry', 'a name twice', () => renamed(zipped(manifestOf([one]), { ...FILES, [SOUND_ENTRY.replace('s', 'S')]: SOUND }), SOUND_ENTRY.replace('s', 'S'), SOUND_ENTRY)],
    ['unsafe path', 'a link', () => zipped(manifestOf([one]), { ...FILES, [SOUND_ENTRY]: [SOUND, { os: 3, attrs: (0o120777 << 16) >>> 0 }] })],
    ...['../../x', '/etc/x', 'a/../x', './x', 'a\\x', 'C:x', 'a\0x'].map((name): [Reason, string, () => Buffer] => [
      'unsafe path', `the name ${JSON.stringify(name)}`, () => zipped(manifestOf([one]), { ...FILES, [name]: SOUND }),
    ]),
  ])('as %s: %s', async (reason, _, make) => {
    expect(await refusal(make())).toBe(reason);
  }); // prettier-ignore

  it('with words that say what was wrong and what to do', () => {
    expect(new BundleRefused('tampered', 'sound.flac').message).toBe(
      'What is in the file is not what was put into it. Have it made again (sound.flac).',
    );
  });

  it('without unpacking more than it says it has', async () => {
    expect(ManifestSchema.safeParse(manifestOf([one])).success).toBe(true);
    // A megabyte of zeros that says it has 40 bytes.
    expect(await refusal(bomb())).toBe('tampered');
  });
});

/** A file of a megabyte whose listing says 40 bytes, in the ZIP's own headers as well. */
function bomb(): Buffer {
  const bytes = zipped(manifestOf([listed(RECORD, zeros.subarray(0, 40), null)]), { [JOURNAL_ENTRY]: zeros });
  const size = Buffer.alloc(4);
  size.writeUInt32LE(zeros.length);
  const lie = Buffer.alloc(4);
  lie.writeUInt32LE(40);
  return renamed(bytes, size.toString('latin1'), lie.toString('latin1'));
}
