import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { codeOf, countIn, filesIn } from './house.ts';

const guide = readFileSync('DEVELOPERS.md', 'utf8');

function section(title: string): string {
  const [, text = ''] = guide.split(`\n## ${title}\n`);
  return text.split('\n## ')[0] ?? '';
}
const rowsOf = (text: string): string[] =>
  text.split('\n').filter((line) => /^\| (?!change|folder)/.test(line));
const quoted = (text: string): string[] => [...text.matchAll(/`([^`\s]+)`/g)].map(([, name = '']) => name);
const filesNamed = (text: string): string[] => quoted(text).filter((name) => /\.(tsx?|json)$/.test(name));

describe('DEVELOPERS.md', () => {
  it('walks from the microphone to a tick in ten lines, each a file that is there, none twice', () => {
    const files = section('From the microphone to a tick').trim().split('\n').map(filesNamed);
    expect(files.map(({ length }) => length)).toEqual(new Array(10).fill(1));
    expect(new Set(files.flat()).size).toBe(10);
    for (const file of files.flat()) expect(existsSync(file), file).toBe(true);
  });

  it.each(rowsOf(section('Where a change goes')))('names three files at most that are there: %s', (row) => {
    const [, , files = ''] = row.split('|');
    const [needed = ''] = files.split(/What is more|, and where/);
    expect(filesNamed(needed).length).toBeGreaterThan(0);
    expect(filesNamed(needed).length).toBeLessThanOrEqual(3);
    for (const file of filesNamed(files)) expect(existsSync(file), file).toBe(true);
  });

  const map = rowsOf(section('Map of the house')).map((row) => {
    const [, folder = '', ...holds] = row.split('|');
    return { folder: quoted(folder)[0] ?? '', files: filesNamed(holds.join('|')) };
  });

  it.each(map)('says of $folder what is there', ({ folder, files }) => {
    const there = filesIn('.', folder);
    for (const file of files)
      expect(existsSync(file) || there.some((path) => path.endsWith(`/${file}`)), file).toBe(true);
  });

  it('has each folder of the program on its map', () => {
    const known = map.map(({ folder }) => folder);
    expect(readdirSync('app').filter((name) => !known.includes(`app/${name}`))).toEqual([]);
  });
});

describe('the code', () => {
  const { assertions, nestedTernaries } = countIn('.', codeOf('.'));

  it('says beside each non-null assertion why it holds', () => {
    expect(assertions.length).toBeGreaterThan(0);
    expect(assertions.filter(({ reason }) => !reason).map(({ at }) => at)).toEqual([]);
  });

  it('nests no ternaries', () => expect(nestedTernaries).toBe(0));
});
