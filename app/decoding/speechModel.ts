import { SAMPLE_RATE } from '../sound/sampleRate.ts';
import { floats, openModel, ort, output, type Tensors } from '../inference/runtime.ts';
import { BEGIN, END, Tokens } from './tokens.ts';

/** The files of an encoder-decoder speech model, by their names. */
export type ModelFiles = ReadonlyMap<string, Uint8Array>;

/** The shape of the model's attention cache: 6 layers of 8 heads of 36 numbers (27M-parameter English model). */
const LAYERS = 6;
const HEADS = 8;
const HEAD_SIZE = 36;

/**
 * Samples for each encoder frame as the decoder reckons it when it strides the audio mask down. The mask's values are
 * all ones, so only its length after striding matters: it must equal the encoder's number of frames.
 */
const SAMPLES_PER_FRAME = 384;

/**
 * Tokens a second beyond which text is a loop, not speech: fast talk has 5–6. Without the limit a loop runs on for
 * hundreds of tokens.
 */
const MOST_TOKENS_PER_SECOND = 6.5;

/** Short sounds hold a short word and its full stop whatever their length. */
const LEAST_TOKEN_LIMIT = 5;

/** Sequences scored in one call. Each costs 128 KB of logits a token; at 16 × 30 tokens that is 60 MB. */
const SCORE_BATCH = 16;

const CACHE = Array.from({ length: LAYERS }, (_, layer) =>
  (['decoder', 'encoder'] as const).flatMap((side) =>
    ['key', 'value'].map((part) => ({
      side,
      past: `past_key_values.${layer}.${side}.${part}`,
      present: `present.${layer}.${side}.${part}`,
    })),
  ),
).flat();

/** What a step is asked for. Keys and values over the sound it would give back as they came: copies for nothing. */
const STEP_OUTPUTS = [
  'logits',
  ...CACHE.filter(({ side }) => side === 'decoder').map(({ present }) => present),
];

/** One piece of sound as the decoder takes it, with the decoder's state after the begin token. */
export interface EncodedSound {
  readonly seconds: number;
  /** Logits of the first token, one per token id. */
  readonly first: Float32Array;
  readonly prefix: Prefix;
  readonly hidden: ort.Tensor;
  readonly mask: ort.Tensor;
  /** Keys and values over the sound. They stay at batch size 1 and serve every hypothesis of a batch. */
  readonly cross: Tensors;
}

/** Keys and values over the tokens so far of each hypothesis of a batch. */
export type Prefix = Tensors;

/** Logits after the last token of each hypothesis, row after row, and the batch's new state. */
export interface Step {
  readonly logits: Float32Array;
  readonly prefix: Prefix;
}

/** The encoder-decoder speech model: sound in, token probabilities out. */
export class SpeechModel {
  private constructor(
    readonly tokens: Tokens,
    private readonly encoder: ort.InferenceSession,
    private readonly decoder: ort.InferenceSession,
  ) {}

  /** @throws {Error} a file is not what it should be */
  static async open(files: ModelFiles): Promise<SpeechModel> {
    const file = (name: string): Uint8Array => {
      const bytes = files.get(name);
      if (!bytes) throw new Error(`The speech model has no ${name}: get it again.`);
      return bytes;
    };
    const tokens = new Tokens(file('tokenizer.bin'));
    const encoder = await openModel(file('encoder_model.ort'));
    return new SpeechModel(tokens, encoder, await openModel(file('decoder_model_merged.ort')));
  }

  /** Takes in mono samples, −1…1 at 16 kHz; at least some 0.1 s. */
  async encode(samples: Float32Array): Promise<EncodedSound> {
    const encoded = await this.encoder.run({
      input_values: new ort.Tensor('float32', samples, [1, samples.length]),
      attention_mask: ones(samples.length),
    });
    const hidden = output(encoded, 'last_hidden_state');
    const mask = ones((hidden.dims[1] ?? 0) * SAMPLES_PER_FRAME);
    const outputs = await this.decoder.run({
      input_ids: int64([BEGIN], [1, 1]),
      encoder_hidden_states: hidden,
      encoder_attention_mask: mask,
      use_cache_branch: new ort.Tensor('bool', [false], [1]),
      ...Object.fromEntries(
        CACHE.map(({ past }) => [
          past,
          new ort.Tensor('float32', new Float32Array(0), [0, HEADS, 1, HEAD_SIZE]),
        ]),
      ),
    });
    return {
      seconds: samples.length / SAMPLE_RATE,
      first: floats(outputs, 'logits'),
      prefix: cacheOf(outputs, 'decoder'),
      hidden,
      mask,
      cross: cacheOf(outputs, 'encoder'),
    };
  }

  /** Tokens beyond which a text cannot have been said in this sound. */
  tokenLimit(sound: EncodedSound): number {
    return Math.max(LEAST_TOKEN_LIMIT, Math.ceil(sound.seconds * MOST_TOKENS_PER_SECOND));
  }

  /** The decoder's state after the begin token. */
  beginning(sound: EncodedSound): Step {
    return { logits: sound.first, prefix: sound.prefix };
  }

  /** Adds one token to each hypothesis of the batch. */
  async step(sound: EncodedSound, prefix: Prefix, tokens: readonly number[]): Promise<Step> {
    const outputs = await this.decode(sound, prefix, tokens, [tokens.length, 1]);
    return { logits: floats(outputs, 'logits'), prefix: cacheOf(outputs, 'decoder') };
  }

  /** Adds several tokens to a single hypothesis. */
  async advance(sound: EncodedSound, from: Step, tokens: readonly number[]): Promise<Step> {
    if (tokens.length === 0) return from;
    const outputs = await this.decode(sound, from.prefix, tokens, [1, tokens.length]);
    const logits = floats(outputs, 'logits');
    return { logits: logits.slice(-this.tokens.size), prefix: cacheOf(outputs, 'decoder') };
  }

  /**
   * Log-probability of each token of each text, given the sound and the tokens before it.
   *
   * @param from where the texts go on: the state of a single hypothesis
   * @param texts token ids, at least one each; with {@link END} where the end is to be scored as well
   */
  async score(sound: EncodedSound, from: Step, texts: readonly (readonly number[])[]): Promise<number[][]> {
    const scores: number[][] = [];
    for (let at = 0; at < texts.length; at += SCORE_BATCH)
      scores.push(...(await this.scoreBatch(sound, from, texts.slice(at, at + SCORE_BATCH))));
    return scores;
  }

  /** {@link score} of one whole text. */
  async scoreOne(sound: EncodedSound, text: readonly number[]): Promise<number[]> {
    const [scores = []] = await this.score(sound, this.beginning(sound), [text]);
    return scores;
  }

  /** The decoder's state after a text, given as its pieces between white space. */
  after(sound: EncodedSound, pieces: readonly string[]): Promise<Step> {
    const ids = pieces.length === 0 ? [] : this.tokens.encode(pieces.join(' '));
    return this.advance(sound, this.beginning(sound), ids);
  }

  /**
   * Log-probability of each way to go on with a text.
   *
   * @param from the state after the text, see {@link after}
   * @param ends whether the text ends with them: then the end is weighed as well
   */
  async weigh(sound: EncodedSound, from: Step, tails: readonly string[], ends: boolean): Promise<number[]> {
    const ids = tails.map((tail) => [...this.tokens.encode(tail), ...(ends ? [END] : [])]);
    const scores = await this.score(sound, from, ids);
    return scores.map((tokens) => tokens.reduce((sum, s) => sum + s, 0));
  }

  private async scoreBatch(
    sound: EncodedSound,
    from: Step,
    batch: readonly (readonly number[])[],
  ): Promise<number[][]> {
    const size = this.tokens.size;
    const length = Math.max(1, ...batch.map((ids) => ids.length - 1));
    const input = batch.flatMap((ids) => Array.from({ length }, (_, i) => ids[i] ?? END));
    const prefix = pickRows(from.prefix, new Array<number>(batch.length).fill(0));
    const logits = floats(await this.decode(sound, prefix, input, [batch.length, length]), 'logits');
    const firstTotal = logTotal(from.logits);
    return batch.map((ids, row) =>
      ids.map((id, i) => {
        if (i === 0) return from.logits[id]! - firstTotal; // an id is an index
        const at = (row * length + i - 1) * size;
        return logits[at + id]! - logTotal(logits.subarray(at, at + size)); // likewise
      }),
    );
  }

  private decode(
    sound: EncodedSound,
    prefix: Prefix,
    ids: readonly number[],
    shape: [number, number],
  ): Promise<Tensors> {
    return this.decoder.run(
      {
        input_ids: int64(ids, shape),
        encoder_hidden_states: sound.hidden,
        encoder_attention_mask: sound.mask,
        use_cache_branch: new ort.Tensor('bool', [true], [1]),
        ...sound.cross,
        ...prefix,
      },
      STEP_OUTPUTS,
    );
  }
}

/** The state of a new batch whose hypotheses continue the given rows of the old one. */
export function pickRows(prefix: Prefix, rows: readonly number[]): Prefix {
  const batch = Object.values(prefix)[0]?.dims[0];
  if (rows.length === batch && rows.every((row, i) => row === i)) return prefix;
  return Object.fromEntries(
    Object.entries(prefix).map(([name, tensor]) => {
      const data = floats({ [name]: tensor }, name);
      const [rowsBefore = 1, ...rest] = tensor.dims;
      const size = data.length / rowsBefore;
      const picked = new Float32Array(size * rows.length);
      rows.forEach((row, i) => picked.set(data.subarray(row * size, (row + 1) * size), i * size));
      return [name, new ort.Tensor('float32', picked, [rows.length, ...rest])];
    }),
  );
}

/** Logarithm of the sum of exponentials: what is taken from a logit to make it a log-probability. */
export function logTotal(logits: Float32Array): number {
  // Counted loops: "for … of" over 32 768 numbers for each hypothesis would be a tenth of all time.
  let most = -Infinity;
  for (let i = 0; i < logits.length; i++) if (logits[i]! > most) most = logits[i]!; // within
  let sum = 0;
  // Terms below e^−20 of the largest change nothing: 32 768 of them add up to less than 1e-4. Every i is within.
  for (let i = 0; i < logits.length; i++) if (logits[i]! > most - 20) sum += Math.exp(logits[i]! - most);
  return most + Math.log(sum);
}

function cacheOf(outputs: Tensors, side: 'decoder' | 'encoder'): Tensors {
  return Object.fromEntries(
    CACHE.filter((entry) => entry.side === side).map(({ past, present }) => [past, output(outputs, present)]),
  );
}

function int64(values: readonly number[], shape: readonly number[]): ort.Tensor {
  return new ort.Tensor('int64', BigInt64Array.from(values, BigInt), shape);
}

function ones(length: number): ort.Tensor {
  return new ort.Tensor('int64', new BigInt64Array(length).fill(1n), [1, length]);
}
