/**
 * Kaldi's recogniser, in Node and in the browser the same WebAssembly build: the one inside vosk-browser's only file.
 * That package wraps it in a worker of its own, which fetches its model by address, keeps it in a data base of the
 * browser, and never answers when that fails. Here the build is taken out and called directly. Nothing else in the house
 * knows it.
 */
import { z } from 'zod';
import { messageOf } from '../faults/faults.ts';
import { SAMPLE_RATE } from '../sound/sampleRate.ts';

/** A word as it was decoded. Times in seconds of the sound the recogniser has taken since it was opened. */
export interface DecodedWord {
  readonly text: string;
  readonly start: number;
  readonly end: number;
  /** 0–1: the posterior probability of the word in the lattice. */
  readonly confidence: number;
}

/** A recogniser that writes down sound as it comes. The seam between {@link StreamingListener} and Kaldi. */
export interface Recogniser {
  /** Takes mono samples, −1…1 at 16 kHz, all of them finite. */
  accept(samples: Float32Array): void;
  /** The words since the last `finish`, as they look so far. */
  partial(): string;
  /** Ends the utterance: its words. */
  finish(): DecodedWord[];
  /** Gives its memory back; not to be used afterwards. */
  close(): void;
}

/** A model, and the recognisers that decode with it. */
export interface Kaldi {
  /** Whether it can be held to phrases: its graph is put together while it listens. */
  readonly takesPhrases: boolean;
  /**
   * @param phrases in lower case: it hears these and what mixes them, and takes all else for "[unk]". Words that the model does
   * not know are left out. All words of the model if there are none.
   */
  open(phrases?: readonly string[]): Recogniser;
  /** Bytes of memory taken: the WebAssembly heap, which grows and never shrinks. */
  heapBytes(): number;
}

const ResultSchema = z.object({
  result: z
    .array(z.object({ word: z.string(), start: z.number(), end: z.number(), conf: z.number() }))
    .optional(),
});
const PartialSchema = z.object({ partial: z.string() });

/** What of the build's classes is used. */
interface VoskRecogniser {
  SetWords(words: boolean): void;
  /** Whether the decoder found the end of an utterance. Samples are as loud as 16-bit integers. */
  AcceptWaveform(address: number, samples: number): boolean;
  Result(): string;
  PartialResult(): string;
  FinalResult(): string;
  delete(): void;
}
interface VoskModule {
  readonly HEAPF32: Float32Array;
  readonly FS: {
    mkdirTree(path: string): void;
    writeFile(path: string, data: Uint8Array): void;
    unlink(path: string): void;
  };
  readonly Model: new (folder: string) => object;
  readonly Recognizer: new (model: object, sampleRate: number, phrases?: string) => VoskRecogniser;
  _malloc(bytes: number): number;
  SetLogLevel(level: number): void;
}
type LoadModule = (options: {
  readonly wasmBinary: Uint8Array;
  readonly print: (line: string) => void;
  readonly printErr: (line: string) => void;
}) => Promise<VoskModule>;

/** Where the files of the model lie in the build's own file system. */
const FOLDER = '/model';
/** Samples handed over at once at the most: a second. */
const MOST_SAMPLES = SAMPLE_RATE;
/** Kaldi counts samples as 16-bit integers do. */
const FULL_SCALE = 32768;

/**
 * Opens a model of Vosk's format.
 *
 * @param runtime the file dist/vosk.js of vosk-browser 0.0.8
 * @param files the model's files by their path, as "am/final.mdl"
 * @throws {Error} the runtime is not that file, or Kaldi cannot read the model; the message is Kaldi's own
 */
export async function openKaldi(runtime: Uint8Array, files: ReadonlyMap<string, Uint8Array>): Promise<Kaldi> {
  const { load, wasmBinary } = takeApart(runtime);
  /** What Kaldi complained of last: an exception of C++ arrives as a bare number. */
  let complaint = '';
  const vosk = await load({
    wasmBinary,
    print: () => undefined,
    printErr: (line) => {
      if (line.startsWith('ERROR')) complaint = line.replace(/^ERROR( \(.*?:\d+\))?:?\s*/, '');
    },
  });
  const calling = <T>(call: () => T): T => {
    try {
      return call();
    } catch (error) {
      throw new Error(`Kaldi: ${complaint || messageOf(error)}`, { cause: error });
    }
  };
  // Errors only.
  vosk.SetLogLevel(-1);
  for (const [path, data] of files) {
    vosk.FS.mkdirTree(`${FOLDER}/${path}`.replace(/\/[^/]*$/, ''));
    vosk.FS.writeFile(`${FOLDER}/${path}`, data);
  }
  const model = calling(() => new vosk.Model(FOLDER));
  // They have been read; kept, they would be held twice.
  for (const path of files.keys()) vosk.FS.unlink(`${FOLDER}/${path}`);
  const address = vosk._malloc(4 * MOST_SAMPLES);

  return {
    takesPhrases: [...files.keys()].some((file) => /(^|\/)Gr\.fst$/.test(file)),
    heapBytes: () => vosk.HEAPF32.byteLength,
    open: (phrases) => {
      const held = phrases && [JSON.stringify([...phrases, '[unk]'])];
      const recogniser = calling(() => new vosk.Recognizer(model, SAMPLE_RATE, ...(held ?? [])));
      recogniser.SetWords(true);
      return decodingWith(recogniser, calling, (piece) => {
        vosk.HEAPF32.set(piece, address / 4);
        return address;
      });
    },
  };
}

/** @param place puts samples into the build's memory and answers where */
function decodingWith(
  recogniser: VoskRecogniser,
  calling: <T>(call: () => T) => T,
  place: (samples: Float32Array) => number,
): Recogniser {
  /** Of utterances that the decoder ended by itself. */
  let words: DecodedWord[] = [];
  return {
    accept: (samples) => {
      for (let at = 0; at < samples.length; at += MOST_SAMPLES) {
        const piece = samples.subarray(at, at + MOST_SAMPLES).map((x) => x * FULL_SCALE);
        const ended = calling(() => recogniser.AcceptWaveform(place(piece), piece.length));
        if (ended) words.push(...wordsOf(calling(() => recogniser.Result())));
      }
    },
    partial: () => {
      const { partial } = PartialSchema.parse(JSON.parse(calling(() => recogniser.PartialResult())));
      return [...words.map(({ text }) => text), partial].filter((text) => text !== '').join(' ');
    },
    finish: () => {
      const all = [...words, ...wordsOf(calling(() => recogniser.FinalResult()))];
      words = [];
      return all;
    },
    close: () => recogniser.delete(),
  };
}

function wordsOf(json: string): DecodedWord[] {
  const { result = [] } = ResultSchema.parse(JSON.parse(json));
  return result.map(({ word, start, end, conf }) => ({
    text: word,
    start,
    end,
    confidence: Math.max(0, Math.min(1, conf)),
  }));
}

/** The build inside vosk-browser's file: it holds its worker's source, and that the WebAssembly, each in base 64. */
function takeApart(runtime: Uint8Array): { load: LoadModule; wasmBinary: Uint8Array<ArrayBuffer> } {
  const [, worker = ''] =
    /createBase64WorkerFactory\('([\w+/=]+)'/.exec(new TextDecoder().decode(runtime)) ?? [];
  const source = atob(worker);
  const from = source.indexOf('var LoadVosk = (function() {');
  const to = source.indexOf('module.exports = LoadVosk;', from);
  const [address = '', wasm = ''] =
    /data:application\/octet-stream;base64,([\w+/=]+)/.exec(source.slice(from, to)) ?? [];
  if (from < 0 || to < 0 || wasm === '')
    throw new Error('The recogniser Kaldi is not in vosk.js: it must be the file of vosk-browser 0.0.8.');
  const glue = source.slice(from, to).replace(address, '');
  // It asks for the address of its script, and only a page or a worker of vosk-browser's own has one.
  const nowhere = { href: 'http://localhost/' };
  // The code comes with this program as a package; its own bindings are made the same way.
  const make = new Function('self', 'location', 'document', `${glue}\nreturn LoadVosk;`);
  return {
    load: make({ location: nowhere }, nowhere, undefined) as LoadModule,
    wasmBinary: Uint8Array.from(atob(wasm), (c) => c.charCodeAt(0)),
  };
}
