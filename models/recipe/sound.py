"""
Sound as training sees it: roomed, noisy, equalised, and as the features that the recogniser computes from it.

All works on batches of float samples in the range of int16, on whichever device they lie.
"""

import math

import torch
import torch.nn.functional as F

RATE = 16000
FRAME, SHIFT, FFT = 400, 160, 512
"""Samples of a frame (25 ms), between frames (10 ms), and of the Fourier transform."""
BINS = 40
LOW, HIGH = 20.0, RATE / 2 - 400
LIFTER = 22

MFCC_CONF = f"""--sample-frequency={RATE}
--use-energy=false
--num-mel-bins={BINS}
--num-ceps={BINS}
--low-freq=20
--high-freq=-400
--dither=0.0
"""
"""The same features for the recogniser. Without dither=0 digital silence would be another sound than in training."""

WARPS = torch.linspace(0.8, 1.25, 19)
"""Factors of vocal tract length that voices are turned into: from a large man's to a child's."""


def frames_in(samples: int) -> int:
    """How many frames fit ("snip edges")."""
    return max(0, 1 + (samples - FRAME) // SHIFT)


def _mel(hertz: torch.Tensor) -> torch.Tensor:
    return 1127.0 * torch.log1p(hertz / 700.0)


def _warped(hertz: torch.Tensor, factor: float) -> torch.Tensor:
    """
    Kaldi's piecewise linear warp of vocal tract length: by the factor between 100 Hz and 500 Hz below half the rate,
    bent
    at both ends so that LOW and HIGH stay where they are.
    """
    low, high = 100.0 * max(1.0, factor), (RATE / 2 - 500.0) * min(1.0, factor)
    scale = 1.0 / factor
    left = (scale * low - LOW) / (low - LOW)
    right = (HIGH - scale * high) / (HIGH - high)
    bent = torch.where(hertz < low, LOW + left * (hertz - LOW), scale * hertz)
    bent = torch.where(hertz > high, HIGH + right * (hertz - HIGH), bent)
    return torch.where((hertz < LOW) | (hertz > HIGH), hertz, bent)


def mel_banks(factor: float = 1.0) -> torch.Tensor:
    """Triangular filters on the mel scale, (FFT / 2, BINS), with the centres warped by the factor."""
    low, high = _mel(torch.tensor(LOW)), _mel(torch.tensor(HIGH))
    edges = low + torch.arange(BINS + 2) * (high - low) / (BINS + 1)
    edges = _mel(_warped(700.0 * (torch.exp(edges / 1127.0) - 1.0), factor))
    mel = _mel(torch.arange(FFT // 2) * RATE / FFT)[:, None]
    left, centre, right = edges[:-2], edges[1:-1], edges[2:]
    return torch.minimum((mel - left) / (centre - left), (right - mel) / (right - centre)).clamp(min=0)


class Features(torch.nn.Module):
    """Kaldi's MFCC as `MFCC_CONF` asks for it, for a batch at once, with warped filters where wanted."""

    def __init__(self) -> None:
        super().__init__()
        n = torch.arange(FRAME)
        self.register_buffer("window", (0.5 - 0.5 * torch.cos(2 * math.pi * n / (FRAME - 1))) ** 0.85)
        self.register_buffer("banks", torch.stack([mel_banks(float(w)) for w in WARPS]))
        self.register_buffer("plain", mel_banks())
        k = torch.arange(BINS)[:, None]
        cosines = torch.cos(math.pi * k * (torch.arange(BINS)[None] + 0.5) / BINS) * math.sqrt(2 / BINS)
        cosines[0] /= math.sqrt(2)
        self.register_buffer("cosines", cosines * (1 + LIFTER / 2 * torch.sin(math.pi * k / LIFTER)))

    def forward(
        self, samples: torch.Tensor, warps: torch.Tensor | None = None, curves: torch.Tensor | None = None
    ) -> torch.Tensor:
        """
        :param samples: (batch, samples)
        :param warps: (batch,) which of WARPS each is warped by; None for none
        :param curves: (batch, BINS) added to the logarithm of the filters' energies, as an equaliser would
        :returns: (batch, frames, BINS)
        """
        frames = samples.unfold(1, FRAME, SHIFT)
        frames = frames - frames.mean(-1, keepdim=True)
        frames = frames - 0.97 * torch.cat([frames[..., :1], frames[..., :-1]], -1)
        power = torch.fft.rfft(frames * self.window, FFT).abs().square()[..., : FFT // 2]
        energies = power @ (self.plain if warps is None else self.banks[warps])
        logs = energies.clamp(min=torch.finfo(torch.float32).eps).log()
        if curves is not None:
            logs = logs + curves[:, None]
        return logs @ self.cosines.T


def _uniform(batch: int, low: float, high: float, like: torch.Tensor) -> torch.Tensor:
    return low + (high - low) * torch.rand(batch, device=like.device)


def coloured(batch: int, samples: int, like: torch.Tensor) -> torch.Tensor:
    """
    Noise, each row of a kind drawn by chance: white to brown (0 to 6 dB an octave down), or like a tap, with humps near
    500 Hz (the bowl) and 2.5 kHz (the jet) that swell slowly.
    """
    spectrum = torch.fft.rfft(torch.randn(batch, samples, device=like.device))
    hertz = torch.arange(spectrum.shape[1], device=like.device) * RATE / samples + 1.0
    slope = _uniform(batch, 0.0, 1.0, like)[:, None]
    broad = hertz[None] ** -slope
    bowl = torch.exp(-((torch.log(hertz / 500) / 0.7) ** 2))
    jet = torch.exp(-((torch.log(hertz / 2500) / 0.8) ** 2))
    water = bowl * _uniform(batch, 0.3, 1.5, like)[:, None] + jet * _uniform(batch, 0.3, 1.5, like)[:, None] + 0.05
    tap = torch.rand(batch, 1, device=like.device) < 0.5
    noise = torch.fft.irfft(spectrum * torch.where(tap, water, broad), samples)
    points = torch.rand(batch, 1, max(2, samples // (RATE // 2)), device=like.device) * 0.8 + 0.6
    return noise * F.interpolate(points, size=samples, mode="linear", align_corners=True)[:, 0]


def babble(speech: torch.Tensor) -> torch.Tensor:
    """Six others of the batch at once, each begun somewhere else."""
    batch, samples = speech.shape
    mixed = torch.zeros_like(speech)
    for _ in range(6):
        others = speech[torch.randperm(batch, device=speech.device)]
        mixed += torch.roll(others, int(torch.randint(samples, ())), 1)
    return mixed


def in_rooms(speech: torch.Tensor) -> torch.Tensor:
    """Each row in a room of its own: a direct sound and a decaying tail of noise, 0.1 to 0.6 s to 60 dB down."""
    batch, samples = speech.shape
    length = int(0.6 * RATE)
    seconds = _uniform(batch, 0.1, 0.6, speech)[:, None]
    time = torch.arange(length, device=speech.device)[None] / RATE
    tail = torch.randn(batch, length, device=speech.device) * torch.exp(-6.91 * time / seconds)
    # Energy of direct sound over tail: from across the room to next to the mouth.
    ratio = 10 ** (_uniform(batch, -2.0, 15.0, speech)[:, None] / 20)
    tail[:, : int(0.002 * RATE)] = 0
    tail = tail / tail.norm(dim=1, keepdim=True) / ratio
    tail[:, 0] = 1.0
    size = 1 << (samples + length - 1).bit_length()
    return torch.fft.irfft(torch.fft.rfft(speech, size) * torch.fft.rfft(tail, size), size)[:, :samples]


def disturbed(speech: torch.Tensor) -> torch.Tensor:
    """
    The batch as microphones would give it: four in ten in a room, three in four with noise 0 to 30 dB below the speech
    (a quarter of it babble), all at levels from 22 dB below to 8 dB above, rounded and clipped to int16.

    :param speech: (batch, samples), root mean square of the speech about 2000
    """
    batch, samples = speech.shape
    roomed = torch.rand(batch, 1, device=speech.device) < 0.4
    wet = torch.where(roomed, in_rooms(speech), speech)
    talk = torch.rand(batch, 1, device=speech.device) < 0.25
    noise = torch.where(talk, babble(speech), coloured(batch, samples, speech))
    noise = noise / (noise.square().mean(1, keepdim=True).sqrt() + 1e-6) * 2000
    noisy = torch.rand(batch, 1, device=speech.device) < 0.75
    gain = torch.where(
        noisy, 10 ** (-_uniform(batch, 0.0, 30.0, speech)[:, None] / 20), torch.zeros_like(noisy, dtype=torch.float)
    )
    # A microphone's own noise; digital silence stays where there is none.
    hiss = torch.where(
        torch.rand(batch, 1, device=speech.device) < 0.5, 10.0 * torch.rand(batch, 1, device=speech.device), 0.0
    )
    mixed = wet + gain * noise + hiss * torch.randn_like(speech)
    level = 10 ** (_uniform(batch, -22.0, 8.0, speech)[:, None] / 20)
    return torch.round(mixed * level).clamp(-32768, 32767)


def equaliser(batch: int, like: torch.Tensor) -> torch.Tensor:
    """Smooth curves over the filters, (batch, BINS), about 4 dB root mean square: another microphone, another face."""
    points = torch.randn(batch, 1, 7, device=like.device) * (4 / 4.34)
    return F.interpolate(points, size=BINS, mode="linear", align_corners=True)[:, 0]
