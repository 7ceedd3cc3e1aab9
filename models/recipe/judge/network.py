"""The judge: a small encoder of the BERT kind that reads a line and a step, `[CLS] line [SEP] step [SEP]`; where the line is short, with
what was said just before it, `[CLS] before [SEP] line [SEP] step [SEP]`: "and the other one too" says nothing by itself.

What comes out: a score (a logit) at the closing `[SEP]`, how sure it is that the line says the step; and one embedding of the
whole, which is used of a line or a step alone (`[CLS] text [SEP]`) to find the steps that are worth judging. Several steps beside
one line in one sequence were tried: half as dear, and it did not learn (loss .36 where pairs come to .05).
"""
from dataclasses import dataclass

import numpy as np
import torch
from safetensors.torch import load_file
from tokenizers import Tokenizer
from torch import nn
from torch.nn import functional as F

WIDTH, HEADS, LAYERS, INNER = 384, 12, 6, 1536
#: Tokens of a line that are read; what is longer is cut at its beginning.
LINE_TOKENS = 64
#: A line shorter than this is read with so many tokens of what was said before that both come to this: long lines need no help, and
#: what a line costs hardly grows. With 24 recall on dev was the same, and a line cost a third more.
FILLED_TOKENS = 14
#: Tokens of a step's text that are read.
STEP_TOKENS = 40
#: Of the base model's 512 positions no more are ever used.
POSITIONS = 128


#: Kinds of tokens.
LINE, STEP, BEFORE = range(3)


class Layer(nn.Module):
    def __init__(self):
        super().__init__()
        self.query, self.key, self.value, self.out = (nn.Linear(WIDTH, WIDTH) for _ in range(4))
        self.inner, self.outer = nn.Linear(WIDTH, INNER), nn.Linear(INNER, WIDTH)
        self.norm1, self.norm2 = nn.LayerNorm(WIDTH, eps=1e-12), nn.LayerNorm(WIDTH, eps=1e-12)
        self.drop = nn.Dropout(0.1)

    def forward(self, x, mask):
        b, t, _ = x.shape
        split = lambda y: y.view(b, t, HEADS, WIDTH // HEADS).transpose(1, 2)
        q, k, v = split(self.query(x)), split(self.key(x)), split(self.value(x))
        weights = torch.softmax(q @ k.transpose(-1, -2) * (WIDTH // HEADS) ** -0.5 + mask, -1)
        y = (self.drop(weights) @ v).transpose(1, 2).reshape(b, t, WIDTH)
        x = self.norm1(x + self.drop(self.out(y)))
        return self.norm2(x + self.drop(self.outer(F.gelu(self.inner(x)))))


class Judge(nn.Module):
    """`ids`, `kinds`: integers [batch, tokens]; padding has id 0 and stands at the end.
    Gives scores [batch] of pairs, read at the last token, and embeddings [batch, 384] of length 1."""

    def __init__(self, vocabulary):
        super().__init__()
        self.words = nn.Embedding(vocabulary, WIDTH)
        self.places = nn.Embedding(POSITIONS, WIDTH)
        self.kinds = nn.Embedding(3, WIDTH)
        self.norm = nn.LayerNorm(WIDTH, eps=1e-12)
        self.drop = nn.Dropout(0.1)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.head = nn.Linear(WIDTH, 1)

    def forward(self, ids, kinds):
        there = (ids != 0).float()
        positions = torch.arange(ids.shape[1], device=ids.device)[None]
        mask = (1 - there)[:, None, None, :] * -1e4
        x = self.drop(self.norm(self.words(ids) + self.places(positions) + self.kinds(kinds)))
        for layer in self.layers:
            x = layer(x, mask)
        own = there * (kinds != BEFORE).float()
        mean = (x * own[..., None]).sum(1) / own.sum(1, keepdim=True)
        last = there.sum(1).long() - 1
        end = torch.gather(x, 1, last[:, None, None].expand(-1, 1, WIDTH))[:, 0]
        return self.head(end)[:, 0], F.normalize(mean, dim=-1)


NAMES = {
    'attention.self.query': 'query', 'attention.self.key': 'key', 'attention.self.value': 'value',
    'attention.output.dense': 'out', 'attention.output.LayerNorm': 'norm1',
    'intermediate.dense': 'inner', 'output.dense': 'outer', 'output.LayerNorm': 'norm2',
}


def load_base(folder):
    """The base model's weights in our network; the head is new."""
    weights = {key: value.float() for key, value in load_file(f'{folder}/weights.safetensors').items()}
    state = {
        'words.weight': weights['embeddings.word_embeddings.weight'],
        'places.weight': weights['embeddings.position_embeddings.weight'],
        # The base knows two kinds; what was said before begins as what is said.
        'kinds.weight': weights['embeddings.token_type_embeddings.weight'][[LINE, STEP, LINE]],
        'norm.weight': weights['embeddings.LayerNorm.weight'],
        'norm.bias': weights['embeddings.LayerNorm.bias'],
    }
    for i in range(LAYERS):
        for theirs, ours in NAMES.items():
            for part in ('weight', 'bias'):
                state[f'layers.{i}.{ours}.{part}'] = weights[f'encoder.layer.{i}.{theirs}.{part}']
    judge = Judge(len(state['words.weight']))
    judge.load_state_dict(state, strict=False)
    nn.init.normal_(judge.head.weight, std=0.02)
    nn.init.zeros_(judge.head.bias)
    return judge


@dataclass
class Pieces:
    """Turns texts into token ids, once a text."""

    tokenizer: Tokenizer

    @classmethod
    def open(cls, folder):
        tokenizer = Tokenizer.from_file(f'{folder}/tokenizer.json')
        pieces = cls(tokenizer)
        pieces.cls, pieces.sep = tokenizer.token_to_id('[CLS]'), tokenizer.token_to_id('[SEP]')
        pieces.known = {}
        return pieces

    def of(self, text):
        if text not in self.known:
            self.known[text] = self.tokenizer.encode(text, add_special_tokens=False).ids
        return self.known[text]

    def sequence(self, line, step=None, before=''):
        """ids and kinds of a line and what was said before it, alone or beside a step."""
        said = [*self.of(line)[-LINE_TOKENS:], self.sep]
        room = FILLED_TOKENS + 1 - len(said)
        earlier = [*self.of(before)[-room:], self.sep] if before and room > 0 else []
        asked = [] if step is None else [*self.of(step)[:STEP_TOKENS], self.sep]
        kinds = [LINE, *[BEFORE] * len(earlier), *[LINE] * len(said), *[STEP] * len(asked)]
        return [self.cls, *earlier, *said, *asked], kinds

    def batch(self, sequences, device='cpu'):
        # To a multiple of 8: a GPU makes a new plan for each new size.
        size = (max(len(ids) for ids, _ in sequences) + 7) // 8 * 8
        pad = lambda rows: torch.tensor(np.array([row + [0] * (size - len(row)) for row in rows]), device=device)
        return tuple(pad([s[k] for s in sequences]) for k in range(2))
