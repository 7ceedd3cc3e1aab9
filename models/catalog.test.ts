import { describe, expect, it } from 'vitest';
import { catalog, DEFAULT_MODEL, findModel, parseCatalog } from './catalog.ts';

const model = () => structuredClone(findModel(DEFAULT_MODEL)!) as unknown as Record<string, unknown>;

describe('the catalogue of models', () => {
  it('as shipped is sound and has the default model', () => {
    expect(catalog().map((entry) => entry.id)).toContain(DEFAULT_MODEL);
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
    expect(() => parseCatalog({ models: [spoilt] })).toThrow(message);
  });

  it('with one id twice is refused', () => {
    expect(() => parseCatalog({ models: [model(), model()] })).toThrow(/models\[1\]\.id: .* twice/);
  });

  it('that is no catalogue at all is refused', () => {
    expect(() => parseCatalog(null)).toThrow(/whole file/);
  });
});
