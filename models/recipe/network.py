"""
The acoustic network: ten-millisecond features in, a score for each phone every thirty milliseconds out.

Time-delay layers with bottlenecks ("factored", after Povey et al., Interspeech 2018, without their constraint on the
first
factor). Each is linear → affine → batch norm → rectifier, plus 0.66 of its input.
"""

import torch
from torch import nn

from .lexicon import PHONES
from .sound import BINS

OUTPUTS = len(PHONES) + 1
"""Output 0 is silence (and the blank of CTC), output i is PHONES[i - 1]."""
STRIDE = 3
"""Frames of input to one of output."""
WIDTH, NECK, BLOCKS = 512, 128, 8
BYPASS = 0.66
CONTEXT = 2 + 1 + 3 * BLOCKS
"""Frames of input needed on each side of the one that an output stands for."""


class Block(nn.Module):
    """One factored layer at the output's rate: it looks one output frame back, then one ahead."""

    def __init__(self) -> None:
        super().__init__()
        self.linear = nn.Conv1d(WIDTH, NECK, 2, bias=False)
        self.affine = nn.Conv1d(NECK, WIDTH, 2)
        self.norm = nn.BatchNorm1d(WIDTH)
        self.drop = nn.Dropout(0.05)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        y = torch.relu(self.norm(self.affine(self.linear(x))))
        return self.drop(y) + BYPASS * x[:, :, 1:-1]


class Network(nn.Module):
    """Scores (batch, outputs, OUTPUTS) before the softmax; `mean`, `deviation`, `log_prior` are set in training."""

    def __init__(self) -> None:
        super().__init__()
        self.register_buffer("mean", torch.zeros(BINS))
        self.register_buffer("deviation", torch.ones(BINS))
        self.register_buffer("log_prior", torch.zeros(OUTPUTS))
        self.first = nn.Conv1d(BINS, WIDTH, 5)
        self.first_norm = nn.BatchNorm1d(WIDTH)
        self.narrow = nn.Conv1d(WIDTH, NECK, 3, stride=STRIDE, bias=False)
        self.widen = nn.Conv1d(NECK, WIDTH, 1)
        self.widen_norm = nn.BatchNorm1d(WIDTH)
        self.blocks = nn.ModuleList(Block() for _ in range(BLOCKS))
        self.out = nn.Conv1d(WIDTH, OUTPUTS, 1)

    def forward(self, features: torch.Tensor) -> torch.Tensor:
        """
        :param features: (batch, frames, BINS), with CONTEXT frames more at both ends than are scored: see `padded`
        """
        x = ((features - self.mean) / self.deviation).transpose(1, 2)
        x = torch.relu(self.first_norm(self.first(x)))
        x = torch.relu(self.widen_norm(self.widen(self.narrow(x))))
        for block in self.blocks:
            x = block(x)
        return self.out(x).transpose(1, 2)


def outputs_for(frames: int) -> int:
    """How many outputs the recogniser asks for over so many frames: one at each third frame, from the first."""
    return (frames + STRIDE - 1) // STRIDE


def padded(features: torch.Tensor, offset: int = 0) -> torch.Tensor:
    """
    The features with their first and last frame repeated at the ends, as the recogniser does it, so that `outputs_for`
    scores come out.

    :param offset: 0 to 2, frames by which the outputs stand later
    """
    batch, frames, _ = features.shape
    behind = STRIDE * (outputs_for(frames) - 1) + offset + CONTEXT - (frames - 1)
    first = features[:, :1].expand(batch, CONTEXT - offset, BINS)
    last = features[:, -1:].expand(batch, behind, BINS)
    return torch.cat([first, features, last], 1)
