"""
Training: first what is said (CTC, which needs no times), then when (cross-entropy on each frame's phone, the times
found
anew as the network learns). CTC alone gives words at the wrong times, since it may wait before it answers.
"""

import random
import time
from pathlib import Path

import numpy as np
import torch
import torch.nn.functional as F

from .alignment import best_path, ctc_topology, hmm_topology, spikes_to_phones
from .lexicon import PHONES
from .network import OUTPUTS, STRIDE, Network, outputs_for, padded
from .sound import FRAME, RATE, SHIFT, WARPS, Features, disturbed, equaliser, frames_in

EDGE = RATE // 5
"""Samples of silence put at both ends of a saying when its times are looked for."""
CHECKED = 300
"""Sayings kept out of training, to see how it goes: so many, or one in twenty."""
PRIOR = 0.7
"""Share of the outputs' priors taken off when times are looked for; with all of it silence is never chosen."""
PHONE = {phone: i + 1 for i, phone in enumerate(PHONES)}


class Trainer:
    """The corpus on a device, and the network that learns it."""

    def __init__(
        self, sound: np.ndarray, entries: list[dict], lexicon: dict[str, list[list[str]]], seed: int, device: str
    ) -> None:
        """
        :param sound: samples of all sayings, int16
        :param entries: of `speech.recorded`
        """
        random.seed(seed)
        torch.manual_seed(seed)
        torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
        self.device = torch.device(device)
        self.sound = torch.from_numpy(sound).to(self.device)
        self.start = torch.tensor([e["start"] for e in entries], device=self.device)
        self.samples = [int(e["samples"]) for e in entries]
        self.words = [[[PHONE[p] for p in lexicon[w][0]] for w in e["words"]] for e in entries]
        self.phones = [[p for word in words for p in word] for words in self.words]
        order = list(range(len(entries)))
        random.Random(seed).shuffle(order)
        checked = max(1, min(CHECKED, len(order) // 20))
        self.checked, self.trained = order[:checked], order[checked:]
        self.features = Features().to(self.device)
        self.network = Network().to(self.device)
        # Some 100 sayings a step on a GPU; fewer where memory and time are short.
        self.most_frames = 40_000 if self.device.type == "cuda" else 16_000
        self.labels: torch.Tensor | None = None
        """The phone of each frame of each saying with EDGE around it, one after the other."""

    # ---- batches

    def batches(self, which: list[int]) -> list[list[int]]:
        """The sayings in batches of like length, in an order drawn by chance."""
        ordered = sorted(which, key=lambda i: self.samples[i] * random.uniform(0.95, 1.05))
        found: list[list[int]] = [[]]
        for i in ordered:
            longest = frames_in(round(self.samples[i] * 1.15) + RATE)
            if found[-1] and (len(found[-1]) + 1) * longest > self.most_frames:
                found.append([])
            found[-1].append(i)
        random.shuffle(found)
        return found

    def _gathered(self, batch: list[int], lead: torch.Tensor, rate: torch.Tensor, total: int) -> torch.Tensor:
        """(batch, total) samples: each saying begins `lead` samples in and is played at `rate`."""
        at = (torch.arange(total, device=self.device)[None] - lead[:, None]) * rate[:, None]
        length = torch.tensor([self.samples[i] for i in batch], device=self.device)[:, None]
        inside = (at >= 0) & (at < length - 1)
        whole = at.floor().long().clamp(min=0)
        whole = torch.minimum(whole, length - 2)
        start = self.start[batch][:, None]
        before, after = self.sound[start + whole].float(), self.sound[start + whole + 1].float()
        return torch.where(inside, before + (at - whole) * (after - before), 0.0)

    def disguised(self, batch: list[int]) -> tuple[torch.Tensor, torch.Tensor, torch.Tensor]:
        """Features of the batch in other rooms, noises, voices, and where each saying begins and how fast it is."""
        size = len(batch)
        lead = torch.randint(RATE // 10, RATE * 6 // 10, (size,), device=self.device)
        rate = 0.9 + 0.22 * torch.rand(size, device=self.device)
        ends = [
            self.samples[i] / float(r) + float(b) for i, r, b in zip(batch, rate.tolist(), lead.tolist(), strict=True)
        ]
        total = int(max(ends)) + random.randint(RATE // 5, RATE * 6 // 10)
        speech = disturbed(self._gathered(batch, lead, rate, total))
        warps = torch.randint(len(WARPS), (size,), device=self.device)
        # Three in ten with the vocal tract they have.
        plain = torch.rand(size, device=self.device) < 0.3
        warps = torch.where(plain, int((WARPS - 1).abs().argmin()), warps)
        features = self.features(speech, warps, equaliser(size, speech))
        return self._masked(features), lead, rate

    def _masked(self, features: torch.Tensor) -> torch.Tensor:
        """Two stretches of up to 12 frames of each made to say nothing (after SpecAugment, Park et al., 2019)."""
        batch, frames, _ = features.shape
        t = torch.arange(frames, device=self.device)[None]
        for _ in range(2):
            begin = torch.randint(frames, (batch, 1), device=self.device)
            length = torch.randint(13, (batch, 1), device=self.device)
            hidden = (t >= begin) & (t < begin + length)
            features = torch.where(hidden[..., None], self.network.mean, features)
        return features

    def plain(self, batch: list[int]) -> torch.Tensor:
        """Features of the batch as it was spoken, EDGE of silence around."""
        size = len(batch)
        lead = torch.full((size,), EDGE, device=self.device)
        total = max(self.samples[i] for i in batch) + 2 * EDGE
        return self.features(self._gathered(batch, lead, torch.ones(size, device=self.device), total))

    # ---- times

    def _frames(self, i: int) -> int:
        return frames_in(self.samples[i] + 2 * EDGE)

    @torch.no_grad()
    def _scores(self, features: torch.Tensor, every_frame: bool) -> torch.Tensor:
        """Log probabilities at the output's rate, or at each frame, with the network run three times."""
        self.network.eval()
        runs = [self.network(padded(features, k)).log_softmax(-1) for k in range(STRIDE if every_frame else 1)]
        stacked = torch.stack(runs, 2).flatten(1, 2)
        return stacked[:, : features.shape[1]] if every_frame else stacked

    def align(self, by_spikes: bool) -> None:
        """Finds the phone of each frame of all sayings: from CTC's spikes, or as a hidden Markov model hears it."""
        begun = time.time()
        self.offsets = torch.tensor(
            np.cumsum([0] + [self._frames(i) for i in range(len(self.samples))]), device=self.device
        )
        labels = torch.zeros(int(self.offsets[-1]), dtype=torch.int8, device=self.device)
        lost = set()
        for batch in self.batches(self.checked + self.trained):
            features = self.plain(batch)
            frames = torch.tensor([self._frames(i) for i in batch], device=self.device)
            scores = self._scores(features, not by_spikes)
            if by_spikes:
                topology = ctc_topology([self.phones[i] for i in batch], self.device)
                lengths = (frames + STRIDE - 1) // STRIDE
                paths = best_path(scores, topology, lengths).cpu()
                for i, path, length in zip(batch, paths, lengths.tolist(), strict=True):
                    ends = set(np.cumsum([len(word) for word in self.words[i]]).tolist())
                    found = spikes_to_phones(path, self.phones[i], ends, length)
                    if found is None:
                        lost.add(i)
                        continue
                    row = torch.tensor(found, dtype=torch.int8).repeat_interleave(STRIDE)[: self._frames(i)]
                    labels[self.offsets[i] : self.offsets[i + 1]] = row.to(self.device)
            else:
                topology = hmm_topology([self.words[i] for i in batch], self.device)
                path = best_path(scores - PRIOR * self.network.log_prior, topology, frames)
                rows = topology.labels.gather(1, path).to(torch.int8)
                for k, i in enumerate(batch):
                    labels[self.offsets[i] : self.offsets[i + 1]] = rows[k, : self._frames(i)]
        self.labels = labels
        self.checked = [i for i in self.checked if i not in lost]
        self.trained = [i for i in self.trained if i not in lost]
        counts = torch.bincount(labels.long(), minlength=OUTPUTS).float() + 1
        self.network.log_prior.copy_((counts / counts.sum()).log())
        silence = float(counts[0] / counts.sum())
        print(f"  times found, {len(lost)} lost, {silence:.2f} silence, {time.time() - begun:.0f} s", flush=True)

    def targets(self, batch: list[int], outputs: int, lead: torch.Tensor, rate: torch.Tensor) -> torch.Tensor:
        """The phone in the middle of each output's frame, for sayings gathered with that lead and rate."""
        middle = torch.arange(outputs, device=self.device)[None] * STRIDE * SHIFT + FRAME // 2
        at = (middle - lead[:, None]) * rate[:, None] + EDGE
        frame = ((at - FRAME / 2) / SHIFT).round().long()
        begin, end = self.offsets[batch][:, None], self.offsets[torch.tensor(batch) + 1][:, None]
        index = begin + frame
        inside = (frame >= 0) & (index < end)
        return torch.where(inside, self.labels[index.clamp(0, len(self.labels) - 1)].long(), 0)

    # ---- learning

    def normalise(self) -> None:
        """Takes mean and deviation of the features from disguised speech."""
        some = [
            self.disguised(b)[0].flatten(0, 1)
            for b in self.batches(random.sample(self.trained, min(600, len(self.trained))))
        ]
        every = torch.cat(some)
        self.network.mean.copy_(every.mean(0))
        self.network.deviation.copy_(every.std(0))

    def learn(self, stage: str, epochs: int, peak: float, file: Path) -> None:
        """
        So many rounds through the corpus. The rate of learning rises to `peak` and falls to nothing (as a half cosine).

        :param stage: "ctc" or "frames"; for "frames" times are found again after the rounds 1, 3 and 6
        :param file: where the network is kept after each round
        """
        optimiser = torch.optim.AdamW(self.network.parameters(), lr=peak, weight_decay=1e-3)
        rounds = [self.batches(self.trained) for _ in range(epochs)]
        steps = sum(map(len, rounds))
        schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, peak, total_steps=steps + 1, pct_start=0.1)
        begun = time.time()
        for epoch, batches in enumerate(rounds, 1):
            lost = torch.zeros((), device=self.device)
            for batch in batches:
                self.network.train()
                features, lead, rate = self.disguised(batch)
                scores = self.network(padded(features))
                loss = self._ctc(scores, batch) if stage == "ctc" else self._frames_loss(scores, batch, lead, rate)
                optimiser.zero_grad()
                loss.backward()
                torch.nn.utils.clip_grad_norm_(self.network.parameters(), 5.0)
                optimiser.step()
                schedule.step()
                lost += loss.detach()
            told = f"{stage} {epoch}/{epochs}: loss {float(lost) / len(batches):.3f}, checked {self.check(stage):.3f}"
            print(f"{told}, {time.time() - begun:.0f} s", flush=True)
            self.save(file)
            if stage == "frames" and epoch in (1, 3, 6) and epoch < epochs:
                self.align(by_spikes=False)

    def _ctc(self, scores: torch.Tensor, batch: list[int]) -> torch.Tensor:
        phones = torch.tensor([p for i in batch for p in self.phones[i]], device=self.device)
        counts = torch.tensor([len(self.phones[i]) for i in batch])
        lengths = torch.full((len(batch),), scores.shape[1])
        logs = scores.float().log_softmax(-1).transpose(0, 1)
        return F.ctc_loss(logs, phones, lengths, counts, zero_infinity=True)

    def _frames_loss(
        self, scores: torch.Tensor, batch: list[int], lead: torch.Tensor, rate: torch.Tensor
    ) -> torch.Tensor:
        targets = self.targets(batch, scores.shape[1], lead, rate)
        return F.cross_entropy(scores.flatten(0, 1), targets.flatten(), label_smoothing=0.05)

    @torch.no_grad()
    def check(self, stage: str) -> float:
        """On sayings kept out: the share of phones wrong (ctc), or of frames right."""
        wrong = of = 0.0
        for batch in self.batches(self.checked):
            features = self.plain(batch)
            best = self._scores(features, False).argmax(-1)
            if stage == "ctc":
                for row, i in zip(best.tolist(), batch, strict=True):
                    heard = [p for p, q in zip(row, [0, *row], strict=False) if p not in (0, q)]
                    wrong += edits(self.phones[i], heard)
                    of += len(self.phones[i])
            else:
                size = len(batch)
                lead, rate = torch.full((size,), EDGE, device=self.device), torch.ones(size, device=self.device)
                inside = torch.tensor([outputs_for(self._frames(i)) for i in batch], device=self.device)
                counts = torch.arange(best.shape[1], device=self.device)[None] < inside[:, None]
                right = (best == self.targets(batch, best.shape[1], lead, rate)) & counts
                wrong += float(right.sum())
                of += float(counts.sum())
        return wrong / of

    def save(self, file: Path) -> None:
        """Writes the network."""
        torch.save({name: value.cpu() for name, value in self.network.state_dict().items()}, file)

    def load(self, file: Path) -> None:
        """Takes a saved network."""
        self.network.load_state_dict(torch.load(file, map_location=self.device))


def edits(wanted: list, found: list) -> int:
    """Fewest insertions, deletions and substitutions from one list to the other (Levenshtein)."""
    row = list(range(len(found) + 1))
    for i, a in enumerate(wanted, 1):
        before, row[0] = row[0], i
        for j, b in enumerate(found, 1):
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, before + (a != b))
    return row[-1]
