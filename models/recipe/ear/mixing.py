"""Batches for training, drawn new each time: who speaks, in what room, under what noise, through what microphone. All on the device."""
from dataclasses import dataclass

import numpy as np
import torch

from .measuring import by_length
from .sound import RATE, SPOKEN_LEVEL
from .tokens import BEGIN, END


#: The longest item of a batch is at most so many times as long as the shortest; the rest is more of its background.
WITHIN = 1.15


@dataclass(frozen=True)
class Mix:
    """How training sounds. Shares are of items, levels in dB."""

    #: Speech over noise: uniform between the two; under -2 dB nothing is left to learn from.
    snr: tuple = (-2.0, 26.0)
    #: Items in near quiet: what must not get worse.
    quiet: float = 0.25
    #: Noise alone, with nothing to write.
    empty: float = 0.06
    #: Other people talk in the noise, 5 dB or more under the speaker, or it would be a guess who is meant.
    talk: float = 0.15
    echo: float = 0.6
    microphone: float = 0.5
    #: A second clip of the same voice follows after a pause.
    more: float = 0.3
    #: Faster and higher, or slower and lower, as by another throat.
    throat: tuple = (0.88, 1.14)
    longest: float = 13.0


@dataclass(frozen=True)
class Batch:
    """(items, samples) twice: without and with what disturbs; and the decoder's ids, shifted, with -100 where nothing counts."""

    clean: torch.Tensor
    noisy: torch.Tensor
    given: torch.Tensor
    wanted: torch.Tensor
    #: (items,) is anything said?
    spoken: torch.Tensor


class Mixer:
    def __init__(self, clips, labels, noises, echoes, device, seed, mix=Mix()):
        """
        :param clips: (voice, samples at SPOKEN_LEVEL) of each clip
        :param labels: token ids of each
        :param noises: (count, samples) float16
        :param echoes: (count, samples) float16, the direct sound first with gain 1
        """
        self.rng, self.device, self.mix = np.random.default_rng(seed), device, mix
        self.speech = torch.from_numpy(np.concatenate([s for _, s in clips]).astype(np.float16)).to(device)
        self.lengths = np.array([len(s) for _, s in clips])
        self.starts = np.cumsum(self.lengths) - self.lengths
        self.labels = labels
        self.noises = torch.from_numpy(noises).to(device)
        self.echoes = torch.from_numpy(echoes).to(device)
        own = {}
        for i, (voice, _) in enumerate(clips):
            own.setdefault(voice, []).append(i)
        self.same_voice = [own[voice] for voice, _ in clips]

    def batches(self, items, seconds):
        """Yields batches of nearly one length and at most so many seconds, made of so many items drawn at once."""
        drawn = [self._item() for _ in range(items)]
        groups = by_length([length for _, length in drawn], seconds * RATE, WITHIN)
        self.rng.shuffle(groups)
        for group in groups:
            yield self._batch([drawn[i] for i in group])

    def _seconds(self, low, high):
        return int(self.rng.uniform(low, high) * RATE)

    def _item(self):
        """([(clip, where it starts, throat)], length in samples)"""
        rng, mix = self.rng, self.mix
        if rng.random() < mix.empty:
            return [], self._seconds(0.7, 8)
        throat, clip = rng.uniform(*mix.throat), rng.integers(len(self.lengths))
        at, parts = self._seconds(0.05, 0.6), []
        while True:
            length = int(self.lengths[clip] / throat)
            if parts and at + length > mix.longest * RATE:
                break
            parts.append((clip, at, throat))
            at += length
            if rng.random() >= mix.more:
                break
            at += self._seconds(0.15, 1.0)
            clip = rng.choice(self.same_voice[clip])
        return parts, at + self._seconds(0.05, 0.6)

    def _tensor(self, values):
        return torch.as_tensor(np.asarray(values), device=self.device)

    def _speech(self, drawn, length):
        """Every item's clips at their places, read at the throat's pace by straight lines between samples."""
        t = torch.arange(length, device=self.device)[None]
        out = torch.zeros(len(drawn), length, device=self.device)
        for turn in range(max((len(parts) for parts, _ in drawn), default=0)):
            rows = [row for row, (parts, _) in enumerate(drawn) if len(parts) > turn]
            clip, at, throat = (np.array(c) for c in zip(*(drawn[row][0][turn] for row in rows)))
            place = (t - self._tensor(at)[:, None]) * self._tensor(throat.astype(np.float32))[:, None]
            last = self._tensor(self.lengths[clip])[:, None] - 2
            inside = (place >= 0) & (place <= last)
            low = place.clamp(min=0).minimum(last.float()).floor()
            i = low.long() + self._tensor(self.starts[clip])[:, None]
            share = place - low
            out[rows] += inside * (self.speech[i].float() * (1 - share) + self.speech[i + 1].float() * share)
        return out

    def _talk(self, count, length):
        """One to four others at once, from anywhere in the corpus."""
        t = torch.arange(length, device=self.device)[None]
        out = torch.zeros(count, length, device=self.device)
        for k in range(4):
            start = self._tensor(self.rng.integers(len(self.speech), size=(count, 1)))
            on = self._tensor((self.rng.random((count, 1)) < (1, 0.6, 0.5, 0.4)[k]).astype(np.float32))
            out += on * self.speech[(start + t) % len(self.speech)].float()
        return out

    def _background(self, count, length):
        """Noise of power 1: one stretch of the bank, a quarter of the time a second one under it, or people talking."""
        rng, (rows, samples) = self.rng, self.noises.shape
        t = torch.arange(length, device=self.device)[None]

        def stretch():
            row, at = self._tensor(rng.integers(rows, size=(count, 1))), self._tensor(rng.integers(samples, size=(count, 1)))
            return self.noises[row, (at + t) % samples].float()

        second = self._tensor((rng.uniform(0.2, 1, (count, 1)) * (rng.random((count, 1)) < 0.25)).astype(np.float32))
        out = unit(stretch() + second * stretch())
        talking = self._tensor(rng.random((count, 1)) < self.mix.talk)
        share = self._tensor(rng.uniform(0, 1, (count, 1)).astype(np.float32))
        return unit(torch.where(talking, unit(self._talk(count, length)) + share * out, out)), talking

    def _echoed(self, x):
        count, length = x.shape
        h = self.echoes[self._tensor(self.rng.integers(len(self.echoes), size=count))].float()
        tail = np.where(self.rng.random((count, 1)) < self.mix.echo, self.rng.uniform(0.2, 1, (count, 1)), 0)
        h[:, 1:] *= self._tensor(tail.astype(np.float32))
        h = h / h.pow(2).sum(1, keepdim=True).sqrt()
        total = length + h.shape[1]
        return torch.fft.irfft(torch.fft.rfft(x, total) * torch.fft.rfft(h, total), total)[:, :length]

    def _recorded(self, x):
        """Through a microphone of its own: a smooth random curve of 4 dB, some of them dull above 3.3 to 7 kHz."""
        rng, (count, length) = self.rng, x.shape
        hertz = torch.fft.rfftfreq(length, 1 / RATE, device=self.device)
        place = (torch.log(hertz + 20) - np.log(20)) / (np.log(8020) - np.log(20)) * 7.999
        knots = self._tensor(rng.normal(0, 4, (count, 9)).astype(np.float32))
        i = place.floor().long().clamp(0, 7)
        decibels = knots[:, i] * (1 - (place - i)) + knots[:, i + 1] * (place - i)
        dull = np.where(rng.random((count, 1)) < 0.3, rng.uniform(3300, 7000, (count, 1)), 9500).astype(np.float32)
        gain = 10 ** (decibels / 20) * torch.sigmoid((self._tensor(dull) - hertz) / 150)
        on = self._tensor(rng.random((count, 1)) < self.mix.microphone)
        return torch.fft.irfft(torch.fft.rfft(x) * torch.where(on, gain, torch.ones_like(gain)), length)

    def _batch(self, drawn):
        rng, mix, count = self.rng, self.mix, len(drawn)
        # An even number of samples, or the Fourier transform would give one fewer back.
        length = (max(n for _, n in drawn) + self._seconds(0, 0.2)) // 2 * 2
        speech = self._speech(drawn, length)
        spoken = self._tensor([len(parts) > 0 for parts, _ in drawn])
        background, talking = self._background(count, length)
        quiet = rng.random((count, 1)) < mix.quiet
        snr = self._tensor(np.where(quiet, rng.uniform(28, 60, (count, 1)), rng.uniform(*mix.snr, (count, 1))).astype(np.float32))
        snr = torch.where(talking, snr.clamp(min=5), snr)
        alone = self._tensor(rng.uniform(-65, -22, (count, 1)).astype(np.float32))
        level = torch.where(spoken[:, None], SPOKEN_LEVEL - snr, alone)
        noisy = self._recorded(self._echoed(speech) + background * 10 ** (level / 20))
        noisy = (noisy * self._tensor(10 ** (rng.uniform(-10, 8, (count, 1)) / 20)).float()).clamp(-1, 1)
        clean = speech + torch.randn_like(speech) * 10 ** (-72 / 20)
        return Batch(clean, noisy, *self._ids(drawn), spoken)

    def _ids(self, drawn):
        said = [[i for clip, _, _ in parts for i in self.labels[clip]] for parts, _ in drawn]
        width = max(len(ids) for ids in said) + 1
        given, wanted = torch.full((len(said), width), END), torch.full((len(said), width), -100)
        for row, ids in enumerate(said):
            given[row, : len(ids) + 1] = torch.tensor([BEGIN, *ids])
            wanted[row, : len(ids) + 1] = torch.tensor([*ids, END])
        return given.to(self.device), wanted.to(self.device)


def unit(x):
    """Each row with power 1."""
    return x / (x.pow(2).mean(1, keepdim=True).sqrt() + 1e-9)
