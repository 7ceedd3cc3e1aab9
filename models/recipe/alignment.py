"""Which phone sounds when: the best path through the phones of what was said (Viterbi), a batch at a time."""

from dataclasses import dataclass

import torch

NEVER = -1e30


@dataclass(frozen=True)
class Topology:
    """States of each saying of a batch, all (batch, states), padded at the end."""

    labels: torch.Tensor
    """The output of the network that each state is heard by."""
    skippable: torch.Tensor
    """Whether a state may be entered past the one before it."""
    count: torch.Tensor
    """How many states a saying has, (batch,)."""


def _batched(rows: list[list[int]], device: torch.device) -> torch.Tensor:
    width = max(map(len, rows))
    return torch.tensor([row + [0] * (width - len(row)) for row in rows], device=device)


def ctc_topology(phones: list[list[int]], device: torch.device) -> Topology:
    """Blank, phone, blank, phone, …, blank; a blank may be left out between different phones."""
    labels, skips = [], []
    for row in phones:
        states = [0] * (2 * len(row) + 1)
        states[1::2] = row
        labels.append(states)
        skips.append([int(i > 1 and label != 0 and label != states[i - 2]) for i, label in enumerate(states)])
    counts = torch.tensor([len(row) for row in labels], device=device)
    return Topology(_batched(labels, device), _batched(skips, device).bool(), counts)


def hmm_topology(words: list[list[list[int]]], device: torch.device) -> Topology:
    """The words' phones, one state each, and silence before, between and after words, which may be left out."""
    labels, skips = [], []
    for saying in words:
        states, skip = [0], [0]
        for word in saying:
            for place, phone in enumerate(word):
                states.append(phone)
                skip.append(int(place == 0 and len(states) > 2))
            states.append(0)
            skip.append(0)
        labels.append(states)
        skips.append(skip)
    counts = torch.tensor([len(row) for row in labels], device=device)
    return Topology(_batched(labels, device), _batched(skips, device).bool(), counts)


def best_path(scores: torch.Tensor, topology: Topology, lengths: torch.Tensor) -> torch.Tensor:
    """
    The best state at each time, (batch, times); it begins in one of the first two states and ends in one of the last
    two.

    :param scores: (batch, times, outputs), logarithms
    :param lengths: (batch,) times that count; what comes after repeats the last state
    """
    batch, times, _ = scores.shape
    labels = topology.labels
    states = labels.shape[1]
    heard = torch.gather(scores, 2, labels[:, None].expand(batch, times, states))
    best = torch.full((batch, states), NEVER, device=scores.device)
    best[:, :2] = heard[:, 0, :2]
    came = torch.zeros(times, batch, states, dtype=torch.int8, device=scores.device)
    far = torch.full((batch, 2), NEVER, device=scores.device)
    for t in range(1, times):
        previous = torch.cat([far, best], 1)
        skipped = previous[:, :-2].masked_fill(~topology.skippable, NEVER)
        ways = torch.stack([best, previous[:, 1:-1], skipped])
        value, way = ways.max(0)
        going = (t < lengths)[:, None]
        best = torch.where(going, value + heard[:, t], best)
        came[t] = torch.where(going, way, 0).to(torch.int8)
    last = topology.count - 1
    ends = torch.stack([last, last - 1])
    state = ends.gather(0, best.gather(1, ends.T).argmax(1)[None])[0]
    path = torch.empty(batch, times, dtype=torch.long, device=scores.device)
    for t in range(times - 1, -1, -1):
        path[:, t] = state
        state = state - came[t].gather(1, state[:, None])[:, 0].long()
    return path


def spikes_to_phones(path: torch.Tensor, phones: list[int], word_ends: set[int], length: int) -> list[int] | None:
    """
    The phone at each time from a path through `ctc_topology`, whose phones are spikes: boundaries stand halfway between
    spikes, and a gap of more than nine times (270 ms) between words is silence. None where a phone has no spike.

    :param word_ends: how many phones end at the ends of words
    """
    spikes: list[list[int]] = [[] for _ in phones]
    for t, state in enumerate(path[:length].tolist()):
        if state % 2:
            spikes[state // 2].append(t)
    if not all(spikes):
        return None
    labels = [0] * length
    begin = max(0, spikes[0][0] - 1)
    for k, phone in enumerate(phones):
        end = spikes[k][-1]
        following = spikes[k + 1][0] if k + 1 < len(phones) else length + 9
        pause = k + 1 == len(phones) or (k + 1 in word_ends and following - end > 9)
        stop = min(length, end + 3) if pause else (end + following + 2) // 2
        labels[begin:stop] = [phone] * (stop - begin)
        begin = following - 2 if pause else stop
    return labels
