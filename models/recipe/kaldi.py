"""
The network as Kaldi's binary `final.mdl`: transition model and nnet3 network in one file.

Everything that is fixed after training is folded into the affine layers: normalisation of the features, batch norms,
the
priors and the acoustic scale.
"""

import struct
from pathlib import Path

import numpy as np
import torch
from torch import nn

from .lexicon import PHONES
from .network import BYPASS, CONTEXT, STRIDE, Network
from .sound import BINS

PRIOR = 0.5
"""Share of the outputs' priors taken off. On the lines of packing.py 11.8 % of words wrong, with all of it 12.4 %."""

PLACES = ["B", "E", "I", "S"]
"""Where in a word a phone stands: beginning, end, inside, alone."""
KALDI_PHONES = ["SIL"] + [f"{phone}_{place}" for phone in PHONES for place in PLACES]
"""Kaldi's phone k is KALDI_PHONES[k - 1]."""
SILENCE = 1


def phone_id(phone: str, place: str) -> int:
    """Kaldi's number of the phone at that place of a word."""
    return 2 + PHONES.index(phone) * len(PLACES) + PLACES.index(place)


def output_of(phone: int) -> int:
    """The network's output by which Kaldi's phone is heard; the place makes no difference."""
    return 0 if phone == SILENCE else 1 + (phone - 2) // len(PLACES)


def stay(phone: int) -> int:
    """Transition id of staying in the phone's one state."""
    return 2 * phone - 1


def leave(phone: int) -> int:
    """Transition id of leaving it."""
    return 2 * phone


def few_bits(values: np.ndarray, bits: int) -> np.ndarray:
    """The float32 values rounded to so many bits of mantissa (of 23), which compress to half and less."""
    raw = np.ascontiguousarray(values, "<f4").view("<u4").astype(np.uint64)
    half, kept = np.uint64(1 << (22 - bits)), np.uint64(0xFFFFFFFF ^ ((1 << (23 - bits)) - 1))
    return ((raw + half) & kept).astype("<u4").view("<f4")


class _Writer:
    """Kaldi's binary format."""

    def __init__(self) -> None:
        self.bytes = bytearray(b"\0B")

    def token(self, text: str) -> None:
        self.bytes += text.encode() + b" "

    def whole(self, value: int) -> None:
        self.bytes += b"\4" + struct.pack("<i", value)

    def real(self, value: float) -> None:
        self.bytes += b"\4" + struct.pack("<f", value)

    def wholes(self, values: list[int]) -> None:
        self.whole(len(values))
        self.bytes += np.asarray(values, "<i4").tobytes()

    def vector(self, values: np.ndarray) -> None:
        self.token("FV")
        self.whole(len(values))
        self.bytes += np.asarray(values, "<f4").tobytes()

    def matrix(self, values: np.ndarray) -> None:
        self.token("FM")
        self.whole(values.shape[0])
        self.whole(values.shape[1])
        self.bytes += np.asarray(values, "<f4").tobytes()


Affine = tuple[np.ndarray, np.ndarray]


def _flat(conv: nn.Conv1d) -> Affine:
    """A convolution as the matrix over its appended inputs, the earliest first, and its bias."""
    weight = conv.weight.detach().double()
    bias = torch.zeros(weight.shape[0], dtype=torch.double) if conv.bias is None else conv.bias.detach().double()
    return weight.permute(0, 2, 1).reshape(weight.shape[0], -1).numpy(), bias.numpy()


def _normed(conv: nn.Conv1d, norm: nn.BatchNorm1d) -> Affine:
    """A convolution and the batch norm after it as one affine layer."""
    matrix, bias = _flat(conv)
    scale = (norm.weight.detach().double() / torch.sqrt(norm.running_var.double() + norm.eps)).numpy()
    shift = norm.bias.detach().double().numpy() - norm.running_mean.double().numpy() * scale
    return matrix * scale[:, None], bias * scale + shift


def _layers(network: Network, acoustic_scale: float) -> tuple[dict[str, Affine], list[str]]:
    """(affine layers by name, the lines of nnet3's configuration)."""
    affines: dict[str, Affine] = {}
    lines = [f"input-node name=input dim={BINS}"]

    def append(node: str, offsets: list[int]) -> str:
        parts = [node if offset == 0 else f"Offset({node}, {offset})" for offset in offsets]
        return parts[0] if len(parts) == 1 else f"Append({', '.join(parts)})"

    def add(name: str, affine: Affine, source: str) -> str:
        affines[name] = affine
        lines.append(f"component-node name={name} component={name} input={source}")
        return name

    def rectified(name: str) -> str:
        lines.append(f"component-node name={name}.relu component={name}.relu input={name}")
        return f"{name}.relu"

    matrix, bias = _normed(network.first, network.first_norm)
    deviation, mean = (np.tile(t.double().numpy(), 5) for t in (network.deviation, network.mean))
    matrix = matrix / deviation
    node = rectified(add("first", (matrix, bias - matrix @ mean), append("input", [-2, -1, 0, 1, 2])))
    node = add("narrow", _flat(network.narrow), append(node, [-1, 0, 1]))
    node = rectified(add("widen", _normed(network.widen, network.widen_norm), node))
    for k, block in enumerate(network.blocks, 1):
        linear = add(f"linear{k}", _flat(block.linear), append(node, [-STRIDE, 0]))
        turned = rectified(add(f"affine{k}", _normed(block.affine, block.norm), append(linear, [0, STRIDE])))
        # A sum can only be the input of a component; this one changes nothing.
        lines.append(f"component-node name=sum{k} component=same input=Sum({turned}, Scale({BYPASS}, {node}))")
        node = f"sum{k}"
    matrix, bias = _flat(network.out)
    # A score is a log likelihood but for a constant a frame, which no comparison of paths sees.
    bias = bias - PRIOR * network.log_prior.double().numpy()
    add("output.affine", (matrix * acoustic_scale, bias * acoustic_scale), node)
    lines.append("output-node name=output input=output.affine objective=linear")
    return affines, lines


def write_model(network: Network, file: Path, acoustic_scale: float, bits: int) -> None:
    """
    Writes `final.mdl`.

    :param acoustic_scale: by which scores are weighed against the language model
    :param bits: of mantissa that each weight keeps
    """
    writer = _Writer()
    phones = len(KALDI_PHONES)
    writer.token("<TransitionModel>")
    writer.token("<Topology>")
    writer.wholes(list(range(1, phones + 1)))
    writer.wholes([-1] + [0] * phones)
    writer.whole(1)
    # One topology for all: a state that is stayed in or left, and the end.
    writer.whole(2)
    for value in (0, 2, 0):
        writer.whole(value)
    writer.real(0.5)
    writer.whole(1)
    writer.real(0.5)
    writer.whole(-1)
    writer.whole(0)
    writer.token("</Topology>")
    writer.token("<Triples>")
    writer.whole(phones)
    for phone in range(1, phones + 1):
        for value in (phone, 0, output_of(phone)):
            writer.whole(value)
    writer.token("</Triples>")
    writer.token("<LogProbs>")
    writer.vector(np.array([0.0] + [np.log(0.5)] * (2 * phones)))
    writer.token("</LogProbs>")
    writer.token("</TransitionModel>")

    affines, lines = _layers(network, acoustic_scale)
    writer.token("<Nnet3>")
    writer.bytes += ("\n" + "\n".join(lines) + "\n\n").encode()
    rectifiers = [name for name in affines if f"component={name}.relu " in "\n".join(lines)]
    writer.token("<NumComponents>")
    writer.whole(len(affines) + len(rectifiers) + 1)
    for name, (matrix, bias) in affines.items():
        writer.token("<ComponentName>")
        writer.token(name)
        writer.token("<FixedAffineComponent>")
        writer.token("<LinearParams>")
        writer.matrix(few_bits(matrix, bits))
        writer.token("<BiasParams>")
        writer.vector(bias)
        writer.token("</FixedAffineComponent>")
        if name in rectifiers:
            writer.token("<ComponentName>")
            writer.token(f"{name}.relu")
            writer.token("<RectifiedLinearComponent>")
            writer.token("<Dim>")
            writer.whole(matrix.shape[0])
            writer.token("<ValueAvg>")
            writer.vector(np.zeros(0))
            writer.token("<DerivAvg>")
            writer.vector(np.zeros(0))
            writer.token("<Count>")
            writer.real(0.0)
            writer.token("</RectifiedLinearComponent>")
    writer.token("<ComponentName>")
    writer.token("same")
    writer.token("<FixedScaleComponent>")
    writer.token("<Scales>")
    writer.vector(np.ones(network.out.weight.shape[1]))
    writer.token("</FixedScaleComponent>")
    writer.token("</Nnet3>")
    writer.token("<LeftContext>")
    writer.whole(CONTEXT)
    writer.token("<RightContext>")
    writer.whole(CONTEXT)
    writer.token("<Priors>")
    writer.vector(np.zeros(0))
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(bytes(writer.bytes))
