import { Tokenizer } from '@huggingface/tokenizers';
import { floats, openModel, ort } from '../inference/runtime.ts';
import { splitClauses } from '../language/clauses.ts';
import type { Judged, Utterance } from '../language/utterance.ts';
import { isFunctionWord, piecesOf, tokenize, type Token } from '../language/words.ts';

/**
 * The learned judge: how sure is it that a sentence says a step? A small encoder, trained by models/recipe/judge, finds the steps
 * nearest to the sentence and judges each of them beside it. What it says is kept with the utterance, so that marking needs no model.
 */

/** The judge's files, as models/judge holds them. */
export interface JudgeFiles {
  /** `judge.onnx` */
  readonly network: Uint8Array;
  /** `tokenizer.json` */
  readonly tokenizer: Uint8Array;
}

/** A step as the judge reads it. */
export interface StepText {
  readonly id: string;
  readonly text: string;
}

/**
 * Steps judged for one stretch, the nearest ones; each costs some 10 ms on one core. Of what dev lines say of skills that training never saw
 * 0.99 is among the nearest 5. With 8, recall on dev is .963 instead of .961, and two more of 484 traps credit something.
 */
const JUDGED = 5;
/**
 * A step less like the sentence than this, as the cosine of their embeddings, is not judged: of five steps 2.9 are, and of 1,680 steps that
 * 1,901 dev lines say one is lost. At 0.25 2.1 are judged and two are lost, at 0.3 five.
 */
const LIKE = 0.2;
/** Tokens of a sentence that are read, the last ones, and of a step's text: as in training. */
const SENTENCE_TOKENS = 64;
const STEP_TOKENS = 40;
/**
 * A shorter sentence is read with so much of what was said before it that both come to this many tokens: "and the other one too" says
 * nothing by itself. A long one needs no help, and what a sentence costs hardly grows. On dev narrations recall is .976 so, .974 with nothing
 * before and .975 with 24 tokens, which cost a third more.
 */
const FILLED_TOKENS = 14;
/** Kinds of tokens. */
const [STEP, BEFORE] = [1, 2];

/**
 * Words up to which sentences are judged together: "Brakes. There, on." says in two what one says. On dev narrations 24 finds a little more
 * than 12 or each alone, and credits less falsely.
 */
const TOGETHER = 24;

/** Sentences whose judgement is remembered: what was just said in part is most often said so in whole, and need not be judged again. */
const REMEMBERED = 16;

interface KnownStep {
  readonly id: string;
  readonly ids: readonly number[];
  readonly embedding: Float32Array;
}

interface Line {
  readonly ids: readonly number[];
  /** How many of them, after the first, were said before. */
  readonly earlier: number;
}

export class Judge {
  private steps: readonly KnownStep[] = [];
  /** Steps of one skill after the other are the same: embedded once. */
  private readonly known = new Map<string, Omit<KnownStep, 'id'>>();
  /** By the line as it is read. */
  private readonly judgements = new Map<string, Readonly<Record<string, number>>>();

  private constructor(
    private readonly session: ort.InferenceSession,
    private readonly tokenizer: Tokenizer,
    private readonly begin: number,
    private readonly end: number,
  ) {}

  /** @throws {Error} the files are not what they should be */
  static async open({ network, tokenizer }: JudgeFiles): Promise<Judge> {
    const words = new Tokenizer(JSON.parse(new TextDecoder().decode(tokenizer)) as object, {});
    const [begin, end] = [words.token_to_id('[CLS]'), words.token_to_id('[SEP]')];
    if (begin === undefined || end === undefined)
      throw new Error('The judge’s tokenizer.json has no [CLS] or no [SEP]: get the program again.');
    return new Judge(await openModel(network), words, begin, end);
  }

  /** The steps that may be said from now on. */
  async expect(steps: readonly StepText[]): Promise<void> {
    const fresh = [...new Set(steps.map(({ text }) => text))].filter((text) => !this.known.has(text));
    for (const text of fresh) {
      const ids = this.pieces(text).slice(0, STEP_TOKENS);
      this.known.set(text, { ids, embedding: await this.run(this.line(text, ''), [], 'embedding') });
    }
    this.steps = steps.map(({ id, text }) => ({ id, ...this.known.get(text)! })); // all are known by now
    this.judgements.clear();
  }

  /**
   * The utterance with what it says by this judge, sentence by sentence.
   *
   * @param before what was said before it, of which the last words may help; '' where nothing was
   */
  async judge(utterance: Utterance, before: string): Promise<Utterance> {
    if (this.steps.length === 0) return utterance;
    return judgeStretches(utterance, before, (said, earlier) => this.sureOf(said, earlier));
  }

  /** How sure it is, 0–1, that a sentence says each of the steps nearest to it. */
  async sureOf(sentence: string, before = ''): Promise<Record<string, number>> {
    const line = this.line(sentence, before);
    const key = line.ids.join(' ');
    const sure = this.judgements.get(key) ?? (await this.judgeLine(line));
    this.judgements.delete(key);
    this.judgements.set(key, sure);
    const [oldest] = this.judgements.keys();
    if (this.judgements.size > REMEMBERED && oldest !== undefined) this.judgements.delete(oldest);
    return { ...sure };
  }

  private async judgeLine(line: Line): Promise<Record<string, number>> {
    const embedding = await this.run(line, [], 'embedding');
    const near = this.steps
      .map((step) => ({ step, likeness: dot(embedding, step.embedding) }))
      .filter(({ likeness }) => likeness >= LIKE)
      .sort((a, b) => b.likeness - a.likeness)
      .slice(0, JUDGED)
      .map(({ step }) => step);
    const sure: Record<string, number> = {};
    for (const { id, ids } of near) sure[id] = rounded(await this.compare(line, ids));
    return sure;
  }

  /** How sure it is, 0–1, that a line says one step, however far it is from it. */
  sureThat(said: string, step: string, before = ''): Promise<number> {
    return this.compare(this.line(said, before), this.pieces(step).slice(0, STEP_TOKENS));
  }

  /** Token ids of a text. */
  pieces(text: string): number[] {
    return this.tokenizer.encode(text, { add_special_tokens: false }).ids;
  }

  /** A sentence's tokens, and those before it, as they stand in front of a step's. */
  private line(sentence: string, before: string): Line {
    const said = [...this.pieces(sentence).slice(-SENTENCE_TOKENS), this.end];
    const room = FILLED_TOKENS + 1 - said.length;
    const earlier = room > 0 ? this.pieces(before).slice(-room) : [];
    if (earlier.length > 0) earlier.push(this.end);
    return { ids: [this.begin, ...earlier, ...said], earlier: earlier.length };
  }

  /** How sure it is, 0–1, that a line says a step, which is given by its tokens. */
  private async compare(line: Line, step: readonly number[]): Promise<number> {
    const [score] = await this.run(line, [...step, this.end], 'score');
    return 1 / (1 + Math.exp(-score!)); // the network gives one number
  }

  /**
   * One line with what stands behind it. Never several at once: the network's numbers are scaled by the greatest of a run, so that a step
   * would be judged otherwise beside others, by more than 0.1 in one pair of a hundred; nor would it be quicker.
   */
  private async run(
    { ids: said, earlier }: Line,
    behind: readonly number[],
    wanted: 'score' | 'embedding',
  ): Promise<Float32Array> {
    const ids = Int32Array.from([...said, ...behind]);
    const kinds = new Int32Array(ids.length);
    kinds.fill(BEFORE, 1, 1 + earlier);
    kinds.fill(STEP, said.length);
    const row = (data: Int32Array): ort.Tensor => new ort.Tensor('int32', data, [1, data.length]);
    return floats(await this.session.run({ ids: row(ids), kinds: row(kinds) }, [wanted]), wanted);
  }
}

/** An utterance with how sure it is of each of its stretches. */
export async function judgeStretches(
  utterance: Utterance,
  before: string,
  sureOf: Judge['sureOf'],
): Promise<Utterance> {
  const words = piecesOf(utterance.text);
  const judged: Judged[] = [];
  for (const { from, to } of stretchesOf(words)) {
    const sure = await sureOf(words.slice(from, to).join(' '), [before, ...words.slice(0, from)].join(' '));
    judged.push({ from, to, sure });
  }
  return { ...utterance, judged };
}

/** Sentences that hold a word of content, as stretches of a text's words; short ones that follow each other are one stretch. */
export function stretchesOf(words: readonly string[]): { from: number; to: number }[] {
  const tokens = tokenize(words);
  const sentences = new Map<number, Token[]>();
  for (const clause of splitClauses(tokens))
    sentences.set(clause.sentence, [
      ...(sentences.get(clause.sentence) ?? []),
      ...tokens.slice(clause.from, clause.to),
    ]);
  return [...sentences.values()]
    .filter((own) => own.some(({ word }) => !isFunctionWord(word)))
    .map((own) => ({ from: own[0]!.at, to: own.at(-1)!.at + 1 })) // none is empty
    .reduce<{ from: number; to: number }[]>((all, next) => {
      const last = all.at(-1);
      if (!last || next.to - last.from > TOGETHER) return [...all, next];
      return [...all.slice(0, -1), { from: last.from, to: next.to }];
    }, []);
}

const dot = (a: Float32Array, b: Float32Array): number => a.reduce((sum, x, i) => sum + x * b[i]!, 0); // both are embeddings

/** Three digits are more than it knows, and keep journals short. */
const rounded = (sure: number): number => Math.round(sure * 1000) / 1000;
