import { capitalised, piecesOf } from '../language/words.ts';
import type { Tokens } from './tokens.ts';

/**
 * Reward in nats for each token that a phrase covers. On neural and robotic voices 1 took a quarter to a half off the
 * word errors; 2 turned silence into "20 seconds".
 */
export const REWARD = 1;

/**
 * A phrase's next token is considered only within so many nats of the likeliest token, whatever its reward: below that
 * the sound speaks against it. 8 was measured together with {@link REWARD}.
 */
export const GATE = 8;

/** A phrase is also rewarded in pieces of so many words: trainees seldom say the whole of it as it is written. */
const SHORTEST_PIECE = 2;
const LONGEST_PIECE = 4;

/** Phrases of more tokens are left out: the account of covered tokens looks so far back. */
const LONGEST_PHRASE = 30;

/** Where a hypothesis stands between phrases. Immutable: hypotheses share their past. */
export interface BiasState {
  readonly node: number;
  /** Tokens covered by completed phrases, each counted once. */
  readonly covered: number;
  /** Tokens of a phrase in progress that are not covered yet: lent, and given back when the phrase breaks off. */
  readonly lent: number;
  /** Which of the latest tokens are covered, the latest in the lowest bit. */
  readonly recent: number;
}

interface Node {
  readonly next: Map<number, number>;
  readonly depth: number;
  /** The node of the longest proper suffix that also begins a phrase. */
  suffix: number;
  /** Length of the longest phrase that ends here; 0 where none does. */
  ends: number;
}

/**
 * Finds phrases in a growing run of tokens (Aho and Corasick, "Efficient string matching", 1975), so that one may begin
 * at any token, and keeps account of how many tokens they cover.
 */
export class PhraseBias {
  private readonly nodes: Node[] = [{ next: new Map(), depth: 0, suffix: 0, ends: 0 }];
  readonly start: BiasState = { node: 0, covered: 0, lent: 0, recent: 0 };

  /** Phrases as token ids; empty ones add nothing. */
  constructor(phrases: readonly (readonly number[])[]) {
    for (const phrase of phrases.filter(({ length }) => length <= LONGEST_PHRASE)) {
      let at = 0;
      for (const token of phrase) {
        const node = this.nodeAt(at);
        const next = node.next.get(token) ?? this.nodes.length;
        if (next === this.nodes.length)
          this.nodes.push({ next: new Map(), depth: node.depth + 1, suffix: 0, ends: 0 });
        node.next.set(token, next);
        at = next;
      }
      if (at > 0) this.nodeAt(at).ends = phrase.length;
    }
    const queue = [...this.nodeAt(0).next.values()];
    for (const at of queue) {
      const node = this.nodeAt(at);
      for (const [token, child] of node.next) {
        this.nodeAt(child).suffix = this.follow(node.suffix, token);
        queue.push(child);
      }
      node.ends ||= this.nodeAt(node.suffix).ends;
    }
  }

  /** The state after one more token. */
  advance(state: BiasState, token: number): BiasState {
    const node = this.follow(state.node, token);
    const { depth, ends } = this.nodeAt(node);
    const before = state.recent << 1;
    const recent = before | latest(ends);
    return {
      node,
      covered: state.covered + ends - bitsOf(before & latest(ends)),
      lent: depth - bitsOf(recent & latest(depth)),
      recent,
    };
  }

  /** Tokens that begin or go on with a phrase from here. */
  *continuations({ node }: BiasState): Generator<number> {
    for (let at = node; ; at = this.nodeAt(at).suffix) {
      yield* this.nodeAt(at).next.keys();
      if (at === 0) return;
    }
  }

  private follow(from: number, token: number): number {
    for (let at = from; ; at = this.nodeAt(at).suffix) {
      const next = this.nodeAt(at).next.get(token);
      if (next !== undefined) return next;
      if (at === 0) return 0;
    }
  }

  private nodeAt(index: number): Node {
    return this.nodes[index]!; // every index is that of a node that was pushed
  }
}

/** The bias of a vocabulary: its phrases in pieces, as they stand inside and at the beginning of a sentence. */
export function biasOf(phrases: readonly string[], tokens: Tokens): PhraseBias {
  const pieces = new Set(phrases.flatMap(partsOf));
  const written = [...pieces].flatMap((piece) => [piece, capitalised(piece)]);
  return new PhraseBias(written.map((piece) => tokens.encode(piece)));
}

/** A phrase of at most {@link LONGEST_PIECE} words is a piece of its own; single words are left out. */
function partsOf(phrase: string): string[] {
  const words = piecesOf(phrase);
  const pieces: string[] = [];
  for (let from = 0; from < words.length; from++) {
    for (let count = SHORTEST_PIECE; count <= LONGEST_PIECE && from + count <= words.length; count++)
      pieces.push(words.slice(from, from + count).join(' '));
  }
  return pieces;
}

/** Bits of the latest so many tokens. */
function latest(count: number): number {
  return 2 ** count - 1;
}

function bitsOf(mask: number): number {
  let count = 0;
  for (let rest = mask; rest !== 0; rest &= rest - 1) count++;
  return count;
}
