/** Ids every model of the family gives to its begin and end tokens. */
export const BEGIN = 1;
export const END = 2;

/** Ids 3–258 stand for the 256 single bytes, for text that no other entry covers. */
const FIRST_BYTE_TOKEN = 3;
const FIRST_PIECE = FIRST_BYTE_TOKEN + 256;

/** What the vocabulary writes for a space (U+2581). */
const SPACE = '▁';

/** The table of a byte-pair vocabulary: token ids to text and back. */
export class Tokens {
  private readonly bytes: readonly Uint8Array[];
  private readonly ids = new Map<string, number>();
  /** Words encoded before: a vocabulary has thousands of pieces of the same few hundred words. */
  private readonly encoded = new Map<string, number[]>();

  /**
   * Reads `tokenizer.bin`: one entry per id, a length (0–127 in one byte; else two, (b1 − 128)·128 … written as
   * b1·128 + b0 − 128) and that many bytes of UTF-8.
   *
   * @throws {Error} the table breaks off or is too short to hold the byte tokens
   */
  constructor(table: Uint8Array) {
    const entries: Uint8Array[] = [];
    for (let at = 0; at < table.length;) {
      let length = table[at++]!; // within
      if (length >= 128) {
        const high = table[at++];
        if (high === undefined) throw new Error('The table of tokens breaks off.');
        length = high * 128 + length - 128;
      }
      if (at + length > table.length) throw new Error('The table of tokens breaks off.');
      entries.push(table.subarray(at, at + length));
      at += length;
    }
    if (entries.length <= FIRST_PIECE) throw new Error('The table of tokens is too short.');
    this.bytes = entries;
    const decoder = new TextDecoder();
    for (let id = FIRST_PIECE; id < entries.length; id++) {
      const text = decoder.decode(entries[id]);
      if (!this.ids.has(text)) this.ids.set(text, id);
    }
  }

  /** How many ids there are. */
  get size(): number {
    return this.bytes.length;
  }

  /** The text of a run of tokens, trimmed. Begin, end and unknown ids add nothing. */
  decode(ids: readonly number[]): string {
    return this.raw(ids).trim();
  }

  /** Whether a token begins a word: its text starts with a space. */
  beginsWord(id: number): boolean {
    return this.raw([id]).startsWith(' ');
  }

  /**
   * Splits text into tokens as the model writes it, with the space it puts before the first word. Pairs are merged in
   * the order of their ids, as byte-pair vocabularies are numbered. Characters without an entry become byte tokens.
   * Word by word: entries that go over a space are for program text.
   */
  encode(text: string): number[] {
    return text
      .trim()
      .split(/\s+/)
      .flatMap((word) => {
        const known = this.encoded.get(word) ?? this.encodeWord(word);
        this.encoded.set(word, known);
        return known;
      });
  }

  private encodeWord(word: string): number[] {
    const parts = [...(SPACE + word)];
    for (;;) {
      let best = Infinity;
      let where = -1;
      for (let i = 0; i + 1 < parts.length; i++) {
        const id = this.ids.get(parts.slice(i, i + 2).join(''));
        if (id !== undefined && id < best) {
          best = id;
          where = i;
        }
      }
      if (where < 0) break;
      parts.splice(where, 2, parts.slice(where, where + 2).join(''));
    }
    const utf8 = new TextEncoder();
    return parts.flatMap((part) => {
      const id = this.ids.get(part);
      return id === undefined ? [...utf8.encode(part)].map((byte) => FIRST_BYTE_TOKEN + byte) : [id];
    });
  }

  private raw(ids: readonly number[]): string {
    const all = ids.flatMap((id) => {
      if (id < FIRST_BYTE_TOKEN) return [];
      if (id < FIRST_PIECE) return [id - FIRST_BYTE_TOKEN];
      return [...(this.bytes[id] ?? [])];
    });
    return new TextDecoder().decode(Uint8Array.from(all)).replaceAll(SPACE, ' ');
  }
}
