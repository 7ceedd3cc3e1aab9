import { createHash } from 'node:crypto';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { FileParts } from './fileParts.ts';
import { DamagedPart, MissingPart } from './parts.ts';

const CONTENT = Buffer.from('some sound');
const SHA = createHash('sha256').update(CONTENT).digest('hex');

let folder = '';
let parts: FileParts;
beforeEach(async () => {
  folder = await mkdtemp(path.join(tmpdir(), 'sinkside-parts-'));
  parts = new FileParts(folder);
});
afterEach(() => rm(folder, { recursive: true }));

describe('parts in a folder', () => {
  it('are kept once, whole, below the first two digits of their hash, and removed', async () => {
    expect(await parts.has(SHA)).toBe(false);
    await Promise.all(Array.from({ length: 8 }, () => parts.put(SHA, CONTENT)));
    expect(await readdir(folder, { recursive: true })).toEqual([
      SHA.slice(0, 2),
      path.join(SHA.slice(0, 2), SHA),
    ]);
    expect(await parts.read(SHA)).toEqual(CONTENT);
    await parts.remove(SHA);
    await parts.remove(SHA);
    expect(await parts.has(SHA)).toBe(false);
    await expect(parts.read(SHA)).rejects.toThrow(MissingPart);
  });

  it('are checked when they come and when they are read', async () => {
    await expect(parts.put(SHA, Buffer.from('something else'))).rejects.toThrow(DamagedPart);
    expect(await readdir(folder)).toEqual([]);
    await parts.put(SHA, CONTENT);
    const file = path.join(folder, SHA.slice(0, 2), SHA);
    const bytes = await readFile(file);
    bytes[0] = (bytes[0] ?? 0) ^ 1;
    await writeFile(file, bytes);
    await expect(parts.read(SHA)).rejects.toThrow(DamagedPart);
  });

  it('never leave the folder', async () => {
    for (const name of ['../../etc/passwd', `${SHA}/..`, SHA.toUpperCase(), ''])
      await expect(parts.read(name)).rejects.toThrow(/no SHA-256/);
  });
});
