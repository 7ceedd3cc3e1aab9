import { describe, expect, it } from 'vitest';
import { ENGINES } from '../app/settings/choice.ts';
import { catalog, DEFAULT_MODEL, findModel, parseCatalog } from './catalog.ts';

const ID = 'moonshine-tiny-en';
const model = () => structuredClone(findModel(ID)!) as unknown as Record<string, unknown>;

describe('the catalogue of models', () => {
  it('as shipped is sound and has the default model', () => {
    expect(catalog()[0]!.id).toBe(DEFAULT_MODEL);
  });

  it.each(ENGINES)('has a model for the engine %s', (engine) => {
    expect(catalog().map((known) => known.engine)).toContain(engine);
  });

  it.each<[string, (entry: Record<string, unknown>) => void, RegExp]>([
    [
      'a short checksum',
      (m) => Object.assign((m['files'] as object[])[1]!, { sha256: 'abc' }),
      /models\[0\]\.files\[1\]\.sha256/,
    ],
    [
      'a path out of the folder',
      (m) => Object.assign((m['files'] as object[])[0]!, { path: '../x' }),
      /files\[0\]\.path: must be a bare/,
    ],
    ['an unknown engine', (m) => (m['engine'] = 'magic'), /models\[0\]\.engine/],
    ['a field it does not know', (m) => (m['colour'] = 'red'), /colour/],
    [
      'an open version',
      (m) => Object.assign((m['sources'] as object[])[0]!, { requirement: 'x>=1' }),
      /sources\[0\]\.requirement/,
    ],
    [
      'a local file as source',
      (m) => Object.assign((m['sources'] as object[])[1]!, { base: 'file:///etc/' }),
      /sources\[1\]\.base/,
    ],
    [
      'a file twice',
      (m) => (m['files'] as object[]).push((m['files'] as object[])[0]!),
      /files\[3\]\.path: .* twice/,
    ],
    ['no source', (m) => (m['sources'] = []), /models\[0\]\.sources/],
  ])('with %s is refused, naming the field', (_, spoil, message) => {
    const spoilt = model();
    spoil(spoilt);
    expect(() => parseCatalog({ default: ID, models: [spoilt] })).toThrow(message);
  });

  it('with one id twice is refused', () => {
    expect(() => parseCatalog({ default: ID, models: [model(), model()] })).toThrow(
      /models\[1\]\.id: .* twice/,
    );
  });

  it('that is no catalogue at all is refused', () => {
    expect(() => parseCatalog(null)).toThrow(/whole file/);
  });

  it('gives the default first', () => {
    const other = { ...model(), id: 'other' };
    expect(parseCatalog({ default: 'other', models: [model(), other] }).models.map(({ id }) => id)).toEqual([
      'other',
      ID,
    ]);
  });

  it.each([
    ['that it does not have', 'gone', /default: there is no model "gone"/],
    ['that is not for people', 'synthetic-en', /default: .* not for people/],
  ])('with a default %s is refused', (_, usual, message) => {
    expect(() => parseCatalog({ default: usual, models: [model(), findModel('synthetic-en')] })).toThrow(
      message,
    );
  });
});

describe('a model that a difference makes', () => {
  const hash = (digit: string): string => digit.repeat(64);
  interface File {
    path: string;
    bytes: number;
    sha256: string | null;
  }
  const files = (): File[] => (model()['files'] as File[]).map((file) => ({ ...file }));
  /** A sound entry, in the form that the recipe writes. */
  const entry = () => ({
    id: 'tuned',
    engine: 'moonshine',
    language: 'en',
    licence: 'MIT',
    note: 'Tuned.',
    files: files().map((file, f) => (f === 0 ? { ...file, sha256: hash('a') } : file)),
    sources: [
      {
        kind: 'difference',
        base: ID,
        file: 'difference.zlib',
        bytes: 4_000_000,
        sha256: hash('b'),
        changes: [{ path: 'encoder_model.ort', baseSha256: files()[0]!.sha256 }],
        madeBy: 'models/recipe/ear, a plan, a day',
      },
    ],
  });
  type Entry = ReturnType<typeof entry>;
  const web = { kind: 'web', base: 'https://models.invalid/' } as unknown as Entry['sources'][0];

  it('is taken', () => {
    expect(parseCatalog({ default: 'tuned', models: [model(), entry()] }).default).toBe('tuned');
  });

  it.each<[string, (tuned: Entry, base: Record<string, unknown>) => void, RegExp]>([
    ['of no base', ({ sources: [s] }) => (s!.base = 'gone'), /sources\[0\]\.base: there is no model "gone"/],
    [
      'of itself',
      ({ sources: [s] }) => (s!.base = 'tuned'),
      /base: "tuned" is made from a difference itself/,
    ],
    ['beside another source', ({ sources }) => sources.push(web), /sources\[0\]: must be the only source/],
    ['too large', ({ sources: [s] }) => (s!.bytes = 6_000_001), /sources\[0\]\.bytes/],
    ['of nothing', ({ sources: [s] }) => (s!.changes = []), /sources\[0\]\.changes/],
    [
      'of a file twice',
      ({ sources: [s] }) => s!.changes.push(s!.changes[0]!),
      /changes\[1\]\.path: .* twice/,
    ],
    [
      'of a file that is not there',
      ({ sources: [s] }) => (s!.changes[0]!.path = 'x'),
      /changes\[0\]\.path: the model has no file "x"/,
    ],
    [
      'of another version of the base',
      (_, base) => Object.assign((base['files'] as object[])[0]!, { sha256: hash('c') }),
      /models\[1\]\.sources\[0\]\.changes\[0\]\.baseSha256: is not the checksum that moonshine-tiny-en has/,
    ],
    [
      'of another size',
      ({ files: [f] }) => f!.bytes++,
      /models\[1\]\.files\[0\]\.bytes: .* no "encoder_model/,
    ],
    ['of an unknown checksum', ({ files: [f] }) => (f!.sha256 = null), /files\[0\]\.sha256: must be known/],
    [
      'that changes a file nobody names',
      ({ files }) => (files[1]!.sha256 = hash('d')),
      /files\[1\]\.sha256: is not that of moonshine-tiny-en/,
    ],
  ])('%s is refused, naming the field', (_, spoil, message) => {
    const [base, tuned] = [model(), entry()];
    spoil(tuned, base);
    expect(() => parseCatalog({ default: ID, models: [base, tuned] })).toThrow(message);
  });
});
