"""Trains the judge: which of some steps does a line say? And, with the same weights, which steps are near it?"""
import math
import random
import time
from collections import defaultdict
from copy import deepcopy
from dataclasses import dataclass, replace

import torch
from torch.nn import functional as F
from torch.utils.data import DataLoader, Dataset

from .data import last_words


@dataclass(frozen=True)
class Plan:
    rounds: int = 6
    size: int = 128
    rate: float = 1.5e-4
    #: Share of lines that are read together with the one before, as a short pause joins them.
    joined: float = 0.12
    #: What is kept is a running mean of the weights; so much of it stays at each turn.
    mean: float = 0.998
    #: Steps that a line is judged against in one round, at the most.
    most_steps: int = 10
    #: Weight of finding beside that of judging.
    find: float = 0.3
    #: Turns from one look at finding to the next; it costs as much as judging.
    find_every: int = 3
    #: Weight of a step that is said beside one that is not.
    said: float = 1.5
    seed: int = 7
    #: Processes that make batches ready; 0 on a small machine.
    readers: int = 0


def nearness(judge, pieces, corpus, lines, device):
    """For each line how near the base model finds each step of its procedure: what is near and not said is worth showing."""
    with torch.no_grad():
        texts = [s.text for steps in corpus.procedures.values() for s in steps]
        at = {text: i for i, text in enumerate(texts)}
        steps = embed(judge, pieces, [(text,) for text in texts], device)
        said = embed(judge, pieces, [(line.text,) for line in lines], device)
        near = []
        for i, line in enumerate(lines):
            own = torch.tensor([at[s.text] for s in corpus.procedures[line.procedure]], device=device)
            near.append((steps[own] @ said[i]).clamp(min=0.02).tolist())
    return near


def embed(judge, pieces, texts, device):
    """Embeddings of texts, one row each; a text stands alone, `(text,)`, or after what was said before, `(text, before)`."""
    judge.eval()
    rows = []
    for at in range(0, len(texts), 512):
        rows.append(judge(*pieces.batch([pieces.sequence(text, None, *before) for text, *before in texts[at : at + 512]], device))[1])
    return torch.cat(rows)


def choose(line, steps, near, most, rng):
    """Steps to show beside a line: those it says, and some of the others, the near ones sooner."""
    said, others = [], []
    for s, likeness in zip(steps, near):
        if s.id in line.says:
            said.append(s)
        elif s.id not in line.may:
            others.append((rng.random() ** (1 / likeness**2), s))
    others.sort(key=lambda pair: -pair[0])
    shown = said + [s for _, s in others[: max(1, rng.randint(2, most) - len(said))]]
    rng.shuffle(shown)
    return shown


def train(judge, pieces, corpus, plan, device, after_round, log=print):
    """Goes on from `judge` (the base, or one trained before); `after_round` is given the running mean of its weights after each round,
    the last of which is the result: a lent machine may be taken away."""
    torch.manual_seed(plan.seed)
    rng = random.Random(plan.seed)
    judge = judge.to(device)
    lines = [line for line in corpus.lines if not line.held_out]
    examples = list(zip(lines, nearness(judge, pieces, corpus, lines, device)))
    talk = defaultdict(lambda: [''])
    for line in lines:
        if line.narration:
            talk[line.procedure].append(last_words(f'{line.before} {line.text}'))
    turns = math.ceil(len(examples) / plan.size)
    optimiser = torch.optim.AdamW(judge.parameters(), lr=plan.rate, weight_decay=0.01, fused=device != 'cpu')
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimiser, plan.rate, total_steps=plan.rounds * turns + 1, pct_start=0.1
    )
    weight = torch.tensor(plan.said, device=device)
    mean = deepcopy(judge)
    for turn in range(plan.rounds):
        began, sums = time.time(), [torch.zeros((), device=device) for _ in range(2)]
        judge.train()
        read = Round(pieces, corpus, plan, talk, list(batches(examples, plan.size, rng)), turn)
        for pairs, truth, finding_batch in DataLoader(read, batch_size=None, num_workers=plan.readers, pin_memory=device != 'cpu'):
            move = lambda tensors: [tensor.to(device, non_blocking=True) for tensor in tensors]
            with torch.autocast(device_type=device, dtype=torch.bfloat16):
                scores, _ = judge(*move(pairs))
                loss = F.binary_cross_entropy_with_logits(scores.float(), *move([truth]), pos_weight=weight)
                finding = find_loss(judge, *map(move, finding_batch)) if finding_batch else loss * 0
            optimiser.zero_grad()
            (loss + plan.find * plan.find_every * finding).backward()
            torch.nn.utils.clip_grad_norm_(judge.parameters(), 1.0)
            optimiser.step()
            schedule.step()
            with torch.no_grad():
                torch._foreach_lerp_(list(mean.parameters()), list(judge.parameters()), 1 - plan.mean)
            sums[0] += loss.detach()
            sums[1] += finding.detach()
        log(f'round {turn}: judging {sums[0] / turns:.3f}, finding {sums[1] * plan.find_every / turns:.3f}, {time.time() - began:.0f} s', flush=True)
        after_round(mean)
    return mean.eval()


class Round(Dataset):
    """One round's batches, made ready by other processes while the GPU works: building them took four fifths of the time. Each has
    its own lot, so the number of processes changes nothing."""

    def __init__(self, pieces, corpus, plan, talk, batches, turn):
        self.pieces, self.corpus, self.plan, self.talk, self.batches, self.turn = pieces, corpus, plan, talk, batches, turn

    def __len__(self):
        return len(self.batches)

    def __getitem__(self, at):
        plan, rng = self.plan, random.Random(f'{self.plan.seed} {self.turn} {at}')
        sequences, truth, arrived = [], [], []
        for told, near in self.batches[at]:
            line = as_it_arrives(told, plan.joined, self.talk[told.procedure], rng)
            arrived.append(line)
            shown = choose(line, self.corpus.procedures[line.procedure], near, plan.most_steps, rng)
            sequences += [self.pieces.sequence(line.text, s.text, line.before) for s in shown]
            truth += [float(s.id in line.says) for s in shown]
        finds = plan.find and at % plan.find_every == 0
        return self.pieces.batch(sequences), torch.tensor(truth), find_batch(self.pieces, self.corpus, arrived, rng) if finds else None


#: Words up to which the program reads two sentences together (TOGETHER in app/meaning/judge.ts).
TOGETHER = 24


#: Share of lines that follow what was said before; the others open a rehearsal, or are tried by themselves.
FOLLOWS = 0.7
#: Kinds of lines that say nothing, or the contrary, without what was said before.
LEANING = ('correction', 'after')


def as_it_arrives(line, share, talk, rng):
    """A line as it may arrive: joined with the one before it, without its punctuation, after this or that; a single line may come after
    anything that is said in such a procedure (`talk`)."""
    first = line.joins
    if first and rng.random() < share and len(f'{first.text} {line.text}'.split()) <= TOGETHER:
        says, may = line.says | first.says, line.may | first.may
        line = replace(line, text=f'{first.text} {line.text}', says=says, may=may - says, before=first.before)
    follows = line.kind in LEANING or rng.random() < FOLLOWS
    line = replace(line, before=(line.before or rng.choice(talk)) if follows else '')
    if rng.random() < 0.1:
        line = replace(line, text=line.text.replace(',', '').rstrip('.'))
    return line


def batches(examples, size, rng):
    """All examples in random batches of lines about as long as each other, so that little is padded."""
    rng.shuffle(examples)
    pool = 16 * size
    for begin in range(0, len(examples), pool):
        alike = sorted(examples[begin : begin + pool], key=lambda example: len(example[0].text))
        places = list(range(0, len(alike), size))
        rng.shuffle(places)
        for at in places:
            yield alike[at : at + size]


def find_batch(pieces, corpus, lines, rng):
    """What `find_loss` reads of some lines: the lines that say something, the steps of their procedures, and for each line the step
    it says and those that it is not compared with. None where no line says anything."""
    saying = [(line, rng.choice(sorted(line.says))) for line in lines if line.says]
    if not saying:
        return None
    place, texts = {}, []
    for procedure in sorted({line.procedure for line, _ in saying}):
        for s in corpus.procedures[procedure]:
            place[procedure, s.id] = len(texts)
            texts.append(pieces.sequence(s.text))
    shut = torch.ones(len(saying), len(texts), dtype=torch.bool)
    open_to = [
        (i, place[line.procedure, s.id])
        for i, (line, target) in enumerate(saying)
        for s in corpus.procedures[line.procedure]
        if s.id == target or s.id not in line.says | line.may
    ]
    shut[[i for i, _ in open_to], [k for _, k in open_to]] = False
    want = torch.tensor([place[line.procedure, target] for line, target in saying])
    said = pieces.batch([pieces.sequence(line.text, before=line.before) for line, _ in saying])
    return said, pieces.batch(texts), (want, shut)


def find_loss(judge, said, steps, answer):
    """The embedding of a line must be nearer to that of a step it says than to the procedure's others."""
    want, shut = answer
    near = judge(*said)[1].float() @ judge(*steps)[1].float().T * 20
    return F.cross_entropy(near.masked_fill(shut, -1e4), want)
