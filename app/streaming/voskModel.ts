import { gunzipSync, unzipSync } from 'fflate';
import { messageOf } from '../faults/faults.ts';
import type { StreamingModel } from './streamingListener.ts';

/** Files of a model of Vosk's format, by their path inside it, as "am/final.mdl". */
export type VoskFiles = ReadonlyMap<string, Uint8Array<ArrayBuffer>>;

/** What a decoder is made of besides its graph, by what each is. */
const PARTS = { 'am/final.mdl': 'the acoustic model', 'conf/mfcc.conf': 'how sound is measured' } as const;
/** A graph of two parts that are joined as needed, so that grammars can take the place of the second; or one of a piece. */
const DYNAMIC = ['graph/HCLr.fst', 'graph/Gr.fst'];
const STATIC = 'graph/HCLG.fst';

/**
 * The files of a model out of the archive its publisher gives out, .zip or .tar.gz, without the folder around them.
 *
 * @throws {Error} it is no such archive, is damaged, or holds no model; the message says which
 */
export function unpackVoskModel(archive: Uint8Array): VoskFiles {
  return checkVoskModel(membersOf(archive));
}

/** What such models are packed in, by the name's end. */
export const ARCHIVE = /\.(zip|tar\.gz|tgz)$/;

/**
 * The model among the files that the engine is given, unpacked where it is an archive, and Kaldi's build.
 *
 * @throws {Error} there is no build, or the archive holds no model
 */
export function streamingModelOf(files: ReadonlyMap<string, Uint8Array>): StreamingModel {
  const runtime = files.get('vosk.js');
  if (!runtime) throw new Error('The recogniser Kaldi is not here: it is the file vosk.js of vosk-browser.');
  const own = [...files].filter(([name]) => name !== 'vosk.js');
  const archive = own.find(([name]) => ARCHIVE.test(name));
  return { runtime, files: archive ? unpackVoskModel(archive[1]) : new Map(own) };
}

/**
 * The model's own files among others, by their path from where am/final.mdl lies.
 *
 * @throws {Error} there is no model, or it is not whole; the message names the file
 */
export function checkVoskModel(members: VoskFiles): VoskFiles {
  const model = [...members.keys()].find((path) => `/${path}`.endsWith('/am/final.mdl'));
  if (model === undefined) throw new Error('it has no am/final.mdl, so it is no model of Vosk’s format');
  const root = model.slice(0, -'am/final.mdl'.length);
  const files = new Map(
    [...members].flatMap(([path, data]) =>
      path.startsWith(root) ? [[path.slice(root.length), data] as const] : [],
    ),
  );
  for (const [path, what] of Object.entries(PARTS)) {
    if (!files.get(path)?.length) throw new Error(`it has no ${path} (${what}), or an empty one`);
  }
  if (!files.get(STATIC)?.length && !DYNAMIC.every((path) => files.get(path)?.length))
    throw new Error(`it has no decoding graph: neither ${STATIC} nor both ${DYNAMIC.join(' and ')}`);
  return files;
}

function membersOf(archive: Uint8Array): VoskFiles {
  const [first, second] = archive;
  try {
    if (first === 0x50 && second === 0x4b) {
      return new Map(Object.entries(unzipSync(archive)));
    }
    if (first === 0x1f && second === 0x8b) return untar(gunzipSync(archive));
  } catch (error) {
    throw new Error(`it is damaged or not whole (${messageOf(error)})`, { cause: error });
  }
  throw new Error('it is neither a .zip nor a .tar.gz');
}

/** Bytes of a header, and what a member is filled up to a multiple of. */
const BLOCK = 512;

/** The plain files of a tar archive (POSIX.1-2017, pax, "ustar Interchange Format"). */
function untar(tar: Uint8Array<ArrayBuffer>): VoskFiles {
  const files = new Map<string, Uint8Array<ArrayBuffer>>();
  const latin = new TextDecoder('latin1');
  for (let at = 0; at + BLOCK <= tar.length;) {
    const header = tar.subarray(at, at + BLOCK);
    if (header.every((byte) => byte === 0)) return files;
    const field = (from: number, length: number): string =>
      latin.decode(header.subarray(from, from + length)).replace(/\0.*$/s, '');
    // The checksum's own eight bytes count as spaces.
    const sum = header.reduce((total, byte, i) => total + (i >= 148 && i < 156 ? 32 : byte), 0);
    if (parseInt(field(148, 8), 8) !== sum) throw new Error(`a header at byte ${at} is not one`);
    const bytes = parseInt(field(124, 12), 8);
    const prefix = field(257, 6) === 'ustar' ? field(345, 155) : '';
    const name = [prefix, field(0, 100)].filter((part) => part !== '').join('/');
    const kind = field(156, 1);
    const data = tar.slice(at + BLOCK, at + BLOCK + bytes);
    if (data.length < bytes) throw new Error(`${name} breaks off`);
    if (kind === '0' || kind === '') files.set(name.replace(/^\.\//, ''), data);
    at += BLOCK + Math.ceil(bytes / BLOCK) * BLOCK;
  }
  throw new Error('its end is missing');
}
