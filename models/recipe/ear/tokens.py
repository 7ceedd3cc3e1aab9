"""The recogniser's tokens, read from its `tokenizer.bin`."""
from pathlib import Path

BEGIN, END = 1, 2
#: Ids of the 256 single bytes begin here; ids of pieces after them.
FIRST_BYTE, FIRST_PIECE = 3, 259
SPACE = '\u2581'


def read_pieces(table: bytes) -> list[bytes]:
    """The pieces by id. Each entry is its length (one byte, or from 128 on two: (first - 128) + second * 128) and its UTF-8.

    :raises ValueError: the table ends within an entry
    """
    pieces, at = [], 0
    while at < len(table):
        length = table[at]
        at += 1
        if length >= 128:
            length += table[at] * 128 - 128
            at += 1
        if at + length > len(table):
            raise ValueError(f'tokenizer.bin: piece {len(pieces)} ends after the file. Get the model again.')
        pieces.append(table[at : at + length])
        at += length
    return pieces


class Tokens:
    """Text to ids and back. The pieces' ids rise with their merge rank, so a word is merged lowest id first."""

    def __init__(self, path):
        self.pieces = read_pieces(Path(path).read_bytes())
        self.ids = {}
        for i in range(FIRST_PIECE, len(self.pieces)):
            self.ids.setdefault(self.pieces[i].decode('utf8', 'replace'), i)
        self.known = {}

    def encode(self, text):
        """Ids of a text, without BEGIN and END."""
        return [i for word in text.split() for i in self._word(SPACE + word)]

    def decode(self, ids):
        """Text of ids; BEGIN, END and unknown ids are left out."""
        out = b''
        for i in ids:
            if FIRST_BYTE <= i < FIRST_PIECE:
                out += bytes([i - FIRST_BYTE])
            elif FIRST_PIECE <= i < len(self.pieces):
                out += self.pieces[i]
        return out.decode('utf8', 'replace').replace(SPACE, ' ').strip()

    def _word(self, word):
        if word not in self.known:
            parts = list(word)
            while len(parts) > 1:
                pairs = [(self.ids[a + b], i) for i, (a, b) in enumerate(zip(parts, parts[1:])) if a + b in self.ids]
                if not pairs:
                    break
                at = min(pairs)[1]
                parts[at : at + 2] = [parts[at] + parts[at + 1]]
            self.known[word] = [
                i for part in parts for i in ([self.ids[part]] if part in self.ids else [FIRST_BYTE + b for b in part.encode()])
            ]
        return self.known[word]
