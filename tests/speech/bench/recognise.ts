import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import path from 'node:path';
import { performance } from 'node:perf_hooks';
import { fileURLToPath } from 'node:url';
import { z } from 'zod';
import { assess } from '../../../app/listening/assess.ts';
import { greedy } from '../../../app/decoding/beamSearch.ts';
import type { Listener, ListenerEvent } from '../../../app/listening/listener.ts';
import { SAMPLE_RATE } from '../../../app/sound/sampleRate.ts';
import { openEngine } from '../../../app/engines/engines.ts';
import { packagedFiles, runnable } from '../../../app/engines/packaged.ts';
import { SpeechModel } from '../../../app/decoding/speechModel.ts';
import { TogetherListener } from '../../../app/listening/togetherListener.ts';
import type { Assessment } from '../../../app/marking/assessment.ts';
import { vocabularyOf, type Checklist } from '../../../app/skills/checklist.ts';
import type { Lexicon } from '../../../app/skills/skill.ts';
import { UtteranceSchema, type Utterance } from '../../../app/language/utterance.ts';
import { enginesOf, USUAL, type Engine, type Listening } from '../../../app/settings/choice.ts';
import { loadModel } from '../../../models/load.ts';
import { judged } from '../../written/judging.ts';
import { inPieces } from '../sound.ts';
import { CACHE } from '../voices.ts';

const RecognisedSchema = z.object({
  /** What listened, and with which phrases: an entry of another listener or other cues is stale. */
  listening: z.string(),
  vocabulary: z.string(),
  audioSeconds: z.number(),
  processingSeconds: z.number(),
  utterances: z.array(UtteranceSchema),
  /** Answers to `pinpoint`, by the utterance's id and the words wanted. */
  pinpoints: z.record(z.string(), UtteranceSchema),
  /** The same stretches of speech decoded greedily and without phrases, where a baseline was wanted. */
  greedy: z.array(z.string()).optional(),
});
type Recognised = z.infer<typeof RecognisedSchema>;

export interface Marked {
  readonly assessment: Assessment;
  /** What was heard without search and phrases; empty where no baseline is wanted. */
  readonly greedy: readonly string[];
  /** Seconds spent in the chain just now; null when the utterances came from the cache. */
  readonly processingSeconds: number | null;
  /** Whether the utterances came from a listener or vocabulary that has changed since. */
  readonly stale: boolean;
}

interface EarOptions {
  /** Take any utterances kept for a sound, even if another version or vocabulary heard them. */
  readonly trustStale: boolean;
  /** Decode greedily and without phrases as well, which costs a third more. */
  readonly baseline: boolean;
}

/** What was heard of a sound, and whether it was just now. */
interface Hearing {
  readonly recognised: Recognised;
  readonly fresh: boolean;
  readonly stale: boolean;
}

/** One engine with a memory: what has been recognised once is kept by the sound's hash. */
class EngineEar {
  private sink: (event: ListenerEvent) => void = () => undefined;

  private constructor(
    private readonly engine: Engine,
    readonly model: string,
    private readonly listener: Listener,
    /** Decodes greedily and without phrases; null for an engine that does so anyway. */
    private readonly plain: SpeechModel | null,
    private readonly options: EarOptions,
  ) {}

  static async open(engine: Engine, options: EarOptions): Promise<EngineEar> {
    const model = await loadModel(engine);
    const packaged = packagedFiles();
    let ear: EngineEar | undefined = undefined as EngineEar | undefined;
    const listener = await openEngine({
      model: await runnable(model, packaged),
      detector: readFileSync(packaged.detector),
      onEvent: (event) => ear?.sink(event),
    });
    const plain =
      model.engine === 'moonshine' && options.baseline ? await SpeechModel.open(model.files) : null;
    ear = new EngineEar(engine, model.id, listener, plain, options);
    return ear;
  }

  /** @param again hear it even if it was heard before: the marks now want a word's time that was never looked for */
  async hear(
    samples: Float32Array,
    checklist: Checklist,
    phrases: readonly string[],
    again: boolean,
  ): Promise<Hearing> {
    const listening = listeningVersion(this.model);
    const vocabulary = hash(JSON.stringify(phrases));
    const by = this.engine === USUAL ? '' : `-${this.engine}`;
    const name = `${hash(bytesOf(samples))}-${checklist.skill.id}${by}.json`;
    const file = path.join(CACHE, 'recognised', name);
    const kept = await read(file);
    const stale = kept !== null && (kept.listening !== listening || kept.vocabulary !== vocabulary);
    const isWhole = !this.options.baseline || kept?.greedy !== undefined;
    if (kept && !again && (this.options.trustStale || (!stale && isWhole)))
      return { recognised: kept, fresh: false, stale };

    const utterances: Utterance[] = [];
    const pinpoints: Record<string, Utterance> = {};
    const { assessment } = await assess(inPieces(samples), {
      checklist,
      vocabulary: () => phrases,
      engine: this.model,
      clock: () => performance.now() / 1000,
      makeListener: (onEvent) => {
        this.sink = (event) => {
          if (event.type === 'utterance') utterances.push(event.utterance);
          onEvent(event);
        };
        return {
          start: (v) => this.listener.start(v),
          expect: (v) => this.listener.expect(v),
          feed: (s) => this.listener.feed(s),
          stop: () => this.listener.stop(),
          pinpoint: async (u, wanted) => {
            const finer = await this.listener.pinpoint(u, wanted);
            pinpoints[pinKey(u, wanted)] = finer;
            return finer;
          },
        };
      },
    });
    const { audioSeconds, processingSeconds, warnings } = assessment;
    // A recogniser in trouble gives a table that looks well and means nothing.
    const trouble = warnings.find((warning) => warning.startsWith('Some sound could not be recognised'));
    if (trouble) throw new Error(trouble);
    const recognised = {
      listening,
      vocabulary,
      audioSeconds,
      processingSeconds,
      utterances,
      pinpoints,
      ...(this.options.baseline && { greedy: await this.decodePlainly(samples, utterances) }),
    };
    await mkdir(path.dirname(file), { recursive: true });
    await writeFile(`${file}.part`, JSON.stringify(recognised));
    await rename(`${file}.part`, file);
    return { recognised, fresh: true, stale: false };
  }

  private async decodePlainly(samples: Float32Array, utterances: readonly Utterance[]): Promise<string[]> {
    const { plain } = this;
    if (!plain) return utterances.map(({ text }) => text);
    const texts: string[] = [];
    for (const { start, end } of utterances) {
      const [from, to] = [Math.max(0, start - PADDING) * SAMPLE_RATE, (end + PADDING) * SAMPLE_RATE];
      const { ids } = await greedy(plain, await plain.encode(samples.slice(from, to)));
      texts.push(plain.tokens.decode(ids));
    }
    return texts;
  }
}

/** A listener that hears what an engine heard before. */
class Replay implements Listener {
  /** Whether a word's time was wanted that was never looked for. */
  lacking = false;
  /** All come with the first piece of sound. */
  private readonly left: Utterance[];

  constructor(
    private readonly kept: Pick<Recognised, 'utterances' | 'pinpoints'>,
    private readonly onEvent: (event: ListenerEvent) => void,
  ) {
    this.left = [...kept.utterances];
  }
  start(): Promise<void> {
    return Promise.resolve();
  }
  expect(): Promise<void> {
    return Promise.resolve();
  }
  feed(): Promise<void> {
    for (const utterance of this.left.splice(0)) this.onEvent({ type: 'utterance', utterance });
    return Promise.resolve();
  }
  pinpoint(utterance: Utterance, wanted: readonly number[]): Promise<Utterance> {
    // Of two engines the other may have known some of the words that this one was asked for when it listened alone.
    const finer = Object.entries(this.kept.pinpoints).find(([key]) => {
      const [id, words = ''] = key.split(':');
      const known = new Set(words.split(','));
      return id === String(utterance.id) && wanted.every((word) => known.has(String(word)));
    })?.[1];
    this.lacking ||= !finer;
    return Promise.resolve(
      finer ? { ...finer, ...(utterance.second && { second: utterance.second }) } : utterance,
    );
  }
  stop(): Promise<void> {
    return Promise.resolve();
  }
}

/**
 * The real chain with a memory, so that a change to the matcher alone can be scored again in seconds. Two engines at once hear
 * what each of them hears alone, one after the other: their times add up.
 */
export class Ear {
  private constructor(
    private readonly engines: readonly EngineEar[],
    private readonly lexicon: Lexicon,
    private readonly options: EarOptions,
    /** Milliseconds it took to read and open the listener's models. */
    readonly loadMilliseconds: number,
  ) {}

  static async open(
    lexicon: Lexicon,
    {
      engine = USUAL,
      trustStale = false,
      baseline = false,
    }: Partial<EarOptions> & { engine?: Listening } = {},
  ): Promise<Ear> {
    const began = performance.now();
    const options = { trustStale, baseline };
    const engines: EngineEar[] = [];
    for (const each of enginesOf(engine)) engines.push(await EngineEar.open(each, options));
    return new Ear(engines, lexicon, options, performance.now() - began);
  }

  /** Listens to a whole recording and marks it against the checklist. */
  async mark(samples: Float32Array, checklist: Checklist): Promise<Marked> {
    const phrases = vocabularyOf(checklist, this.lexicon);
    const hear = async (again: boolean): Promise<Hearing[]> => {
      const all: Hearing[] = [];
      for (const engine of this.engines) all.push(await engine.hear(samples, checklist, phrases, again));
      return all;
    };
    const heard = await hear(false);
    const marked = await this.replay(heard, samples, checklist);
    if (marked.complete || this.options.trustStale || heard.every(({ fresh }) => fresh)) return marked;
    return this.replay(await hear(true), samples, checklist);
  }

  private async replay(
    heard: readonly Hearing[],
    samples: Float32Array,
    checklist: Checklist,
  ): Promise<Marked & { readonly complete: boolean }> {
    const replays: Replay[] = [];
    const open =
      (recognised: Pick<Recognised, 'utterances' | 'pinpoints'>) =>
      (onEvent: (event: ListenerEvent) => void): Promise<Listener> => {
        const replay = new Replay(recognised, onEvent);
        replays.push(replay);
        return Promise.resolve(replay);
      };
    const [{ recognised: settled }, second] = heard as [Hearing, Hearing?];
    const utterances = await judged(settled.utterances, checklist);
    const first = { ...settled, utterances };
    const processing = heard.reduce((sum, { recognised }) => sum + recognised.processingSeconds, 0);
    const { assessment } = await assess(inPieces(samples), {
      checklist,
      vocabulary: () => [],
      engine: this.engines.map(({ model }) => model).join('+'),
      clock: () => 0,
      makeListener: (onEvent) =>
        second ? TogetherListener.open(open(second.recognised), open(first), onEvent) : open(first)(onEvent),
    });
    return {
      assessment: { ...assessment, processingSeconds: processing },
      greedy: settled.greedy ?? [],
      processingSeconds: heard.every(({ fresh }) => fresh) ? processing : null,
      stale: heard.some(({ stale }) => stale),
      complete: !replays.some(({ lacking }) => lacking),
    };
  }
}

/** Seconds of sound around an utterance that the baseline hears as well, so that no word's edge is lost to it. */
const PADDING = 0.2;

async function read(file: string): Promise<Recognised | null> {
  const text = await readFile(file, 'utf8').catch(() => null);
  const checked = text === null ? null : RecognisedSchema.safeParse(JSON.parse(text));
  return checked?.success ? checked.data : null;
}

function pinKey({ id }: Utterance, wanted: readonly number[]): string {
  return `${id}:${wanted.join(',')}`;
}

function hash(data: string | Uint8Array): string {
  return createHash('sha256').update(data).digest('hex').slice(0, 32);
}

function bytesOf(samples: Float32Array): Uint8Array {
  return new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength);
}

const versions = new Map<string, string>();

/** A name for everything that turns sound into utterances: the model, the runtime, and the sources between sound and utterance. */
export function listeningVersion(model: string): string {
  const known = versions.get(model);
  if (known !== undefined) return known;
  const sources = ['sound', 'decoding', 'listening', 'streaming'].flatMap((room) => {
    const folder = fileURLToPath(new URL(`../../../app/${room}/`, import.meta.url));
    return readdirSync(folder)
      .filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts') && !BESIDE.has(name))
      .sort()
      .map((name) => readFileSync(path.join(folder, name), 'utf8'));
  });
  const lock = z
    .object({ packages: z.record(z.string(), z.object({ version: z.string().optional() })) })
    .parse(JSON.parse(readFileSync(new URL('../../../package-lock.json', import.meta.url), 'utf8')));
  const runtimes = ['onnxruntime-web', '@ricky0123/vad-web', 'vosk-browser'].map(
    (name) => lock.packages[`node_modules/${name}`]?.version,
  );
  const version = `${model}-${hash(JSON.stringify([sources, runtimes]))}`;
  versions.set(model, version);
  return version;
}
/** What there comes after the utterance or before the samples. */
const BESIDE = new Set([
  'assess.ts',
  'soundFile.ts',
  'ffmpeg.ts',
  'wav.ts',
  'resample.ts',
  'badSound.ts',
  'microphone.ts',
  'captureWorklet.ts',
  'trial.ts',
]);
