import { gzipSync, zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { unpackVoskModel } from './voskModel.ts';

const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
const FILES: Record<string, Uint8Array> = {
  'am/final.mdl': bytes('the acoustic model'),
  'conf/mfcc.conf': bytes('--dither=0'),
  'graph/HCLr.fst': new Uint8Array(600).fill(7),
  'graph/Gr.fst': bytes('grammar'),
};

/** A tar archive as POSIX has it: of each member a header, then its data filled up to 512 bytes. */
function tar(files: Record<string, Uint8Array>, folder = 'model/'): Uint8Array {
  const blocks: Uint8Array[] = [];
  for (const [name, data] of Object.entries({ [folder]: new Uint8Array(0), ...files })) {
    const header = new Uint8Array(512);
    const isFolder = name.endsWith('/');
    header.set(bytes(isFolder ? name : `${folder}${name}`), 0);
    header.set(bytes(`${data.length.toString(8).padStart(11, '0')}\0`), 124);
    header.set(bytes('        '), 148);
    header.set(bytes(isFolder ? '5' : '0'), 156);
    header.set(bytes('ustar\u000000'), 257);
    const sum = header.reduce((total, byte) => total + byte, 0);
    header.set(bytes(`${sum.toString(8).padStart(6, '0')}\0 `), 148);
    const filled = new Uint8Array(Math.ceil(data.length / 512) * 512);
    filled.set(data);
    blocks.push(header, filled);
  }
  return new Uint8Array([...blocks.flatMap((block) => [...block]), ...new Uint8Array(1024)]);
}

const without = (...names: string[]): Record<string, Uint8Array> =>
  Object.fromEntries(Object.entries(FILES).filter(([name]) => !names.includes(name)));
const zip = (files: Record<string, Uint8Array>): Uint8Array =>
  zipSync(Object.fromEntries(Object.entries(files).map(([name, data]) => [`some-model-0.1/${name}`, data])));

describe('a model of Vosk’s format', () => {
  it.each([
    ['a .zip', zip(FILES)],
    ['a .tar.gz', gzipSync(tar(FILES))],
    ['a .tar.gz without a folder around it', gzipSync(tar(FILES, '../listening/'))],
    ['a .zip with a graph of one piece', zip({ ...without('graph/Gr.fst'), 'graph/HCLG.fst': bytes('g') })],
  ])('is found in %s', (_, archive) => {
    const files = unpackVoskModel(archive);
    expect(files.get('am/final.mdl')).toEqual(FILES['am/final.mdl']);
    expect(files.get('graph/HCLr.fst')).toEqual(FILES['graph/HCLr.fst']);
  });

  it.each<[string, Uint8Array, RegExp]>([
    ['cut off, zipped', zip(FILES).subarray(0, 300), /damaged or not whole/],
    ['cut off, gzipped', gzipSync(tar(FILES)).subarray(0, 200), /damaged or not whole/],
    ['cut off inside a file', gzipSync(tar(FILES).subarray(0, 1030)), /am\/final\.mdl breaks off/],
    ['cut off after a file', gzipSync(tar(FILES).subarray(0, 1536)), /its end is missing/],
    ['overwritten', gzipSync(tar(FILES).fill(65, 512, 600)), /header at byte 512/],
    ['of another kind', bytes('<html>'), /neither a \.zip nor a \.tar\.gz/],
    ['empty', new Uint8Array(0), /neither a \.zip nor a \.tar\.gz/],
    ['something else', zip({ 'readme.txt': bytes('hello') }), /no am\/final\.mdl/],
    ['without its features', zip(without('conf/mfcc.conf')), /no conf\/mfcc\.conf \(how sound is measured\)/],
    ['with an empty acoustic model', zip({ ...FILES, 'am/final.mdl': bytes('') }), /no am\/final\.mdl/],
    ['with half a graph', zip(without('graph/Gr.fst')), /neither graph\/HCLG\.fst nor both .*Gr\.fst/],
  ])('%s is refused, saying what is wrong', (_, archive, message) => {
    expect(() => unpackVoskModel(archive)).toThrow(message);
  });
});
