"""Tunes the recogniser's encoder to hear under water, and keeps it near what it was."""
import copy
import json
import math
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import torch
from torch.nn import functional as F

from . import measuring, weights
from .mixing import Mixer
from .sound import RATE

ENCODER = 'model.encoder.'


@dataclass(frozen=True)
class Plan:
    #: Training ends after so many steps, or sooner after so many seconds, its looks at the test beds included.
    seconds: float = 330
    steps: int = 3000
    #: The highest learning rate. The first spike used 1e-4 for ten minutes; trained harder, unseen people were heard worse.
    rate: float = 1e-4
    warm_up: int = 100
    #: Seconds of sound in a batch.
    size: float = 400
    #: Weight of writing the right words.
    words: float = 1.0
    #: Weight of the distance between what the encoder makes of the noisy clip and what the base makes of the clean one. It needs no text,
    #: and holds the encoder where the decoder, which is not trained, understands it.
    match: float = 1.0
    #: What is kept is a running mean of the weights; so much of it stays at each step.
    mean: float = 0.998
    #: Steps between looks at the test beds.
    look_every: int = 600
    #: Weights are kept after these shares of the training.
    keep_at: tuple = (0.35, 0.7, 1.0)
    seed: int = 7


PLANS = {
    'both': Plan(),
    #: Leans on the base: the words decide little, the distance much.
    'near': Plan(words=0.3, match=3.0),
    #: Half the rate: is less change enough?
    'gentle': Plan(rate=5e-5, match=2.0),
}
#: How much of the change is tried at the end: a mix of the tuned weights with the base.
MIXES = (0.25, 0.5, 0.75, 1.0)
#: Speech over noise in dB at which the test beds are heard; None is quiet. While training runs, at the first two only.
LEVELS = (None, 10, 5, 0)


class Log:
    """One JSON object a line, on the screen and at the end of a file, at once."""

    def __init__(self, path, plan):
        self.path, self.plan, self.began = Path(path), plan, time.time()
        self.path.parent.mkdir(parents=True, exist_ok=True)

    def __call__(self, what, **values):
        line = json.dumps({'plan': self.plan, 'at': round(time.time() - self.began, 1), 'what': what, **values})
        print(line, flush=True)
        with self.path.open('a') as file:
            file.write(line + '\n')


def label(model, tokens, clips, device):
    """What is to be written for each clip, or None to leave it out; and the share of clips that the base hears right.

    Where the base hears the clean clip right, its own spelling (figures, capitals, stops), so that nothing of it must be unlearnt. Else our
    text; but not where two words in three or more are heard wrong: that voice did not say the line so that anybody would understand.
    """
    texts, right = [], 0
    quiet = measuring.under_noise(clips, None, seed=3_000_000)
    for clip, heard in zip(clips, measuring.hear(model, tokens, quiet, device)):
        wrong = measuring.errors(clip.text, heard)
        right += wrong.all == 0
        texts.append(heard if wrong.all == 0 else clip.text if wrong.all < 0.67 * max(1, wrong.words) else None)
    return texts, right / max(1, len(clips))


def distance(own, base):
    """Mean squared distance of two encodings, each frame's, over the base's own spread: (items, frames, width) to (items,)."""
    return (own - base).float().pow(2).mean((1, 2)) / base.float().var((1, 2)).clamp(min=1e-6)


def losses(student, teacher, batch, plan):
    """The loss of a batch, and its two parts alone: cross-entropy of the words (nats a token), distance to the base."""
    kind = batch.noisy.device.type
    with torch.autocast(kind, torch.bfloat16):
        encoded = student.model.encoder(batch.noisy)
        logits = student(encoder_outputs=encoded, decoder_input_ids=batch.given, use_cache=False).logits
        with torch.no_grad():
            base = teacher.model.encoder(batch.clean).last_hidden_state
    words = F.cross_entropy(logits.float().flatten(0, 1), batch.wanted.flatten(), ignore_index=-100)
    spoken = batch.spoken.float()
    match = (distance(encoded.last_hidden_state, base) * spoken).sum() / spoken.sum().clamp(min=1)
    return plan.words * words + plan.match * match, words.detach(), match.detach()


def encoder_weights(model):
    """The encoder's weights by name, float32 arrays on the processor."""
    return {name: p.detach().float().cpu().numpy().copy() for name, p in model.state_dict().items() if name.startswith(ENCODER)}


class Looks:
    """The test beds that a training is watched by, made once: people and neural test voices, in quiet and under noise, and noise alone.

    The made noise is of the kinds that training hears, with other seeds; `water`, recordings, is of a kind that it never hears.
    """

    def __init__(self, clips, water, tokens, device, processes=1):
        self.tokens, self.device, self.whole = tokens, device, []
        for snr in LEVELS:
            under = measuring.under_noise(clips, snr, 4_000_000 + (snr or 0), processes)
            self.whole += [replace(c, bed=f'{c.bed} {"clean" if snr is None else f"{snr} dB"}') for c in under]
        self.watched = self.whole[: 2 * len(clips)]
        self.whole += measuring.noise_alone(60, seed=5_000_000)
        recorded = measuring.under_noise(clips, 10, 6_000_000, processes, [c.samples for c in water])
        self.whole += [replace(c, bed=f'{c.bed} water 10 dB') for c in recorded]

    def __call__(self, model, whole=False):
        clips = self.whole if whole else self.watched
        found = measuring.summary(clips, measuring.hear(model, self.tokens, clips, self.device))
        if whole:
            return found
        return {bed: {'errors': f['errors'], 'deleted': f['deleted'], 'inserted': f['inserted']} for bed, f in found.items()}


def set_encoder(model, values):
    """Puts encoder weights (arrays by full name) into a model."""
    state = model.state_dict()
    with torch.no_grad():
        for name, value in values.items():
            state[name].copy_(torch.from_numpy(np.asarray(value)))


def train(base, tokens, corpus, noises, echoes, looks, plan, name, out, device):
    """Trains by a plan; writes `<name>.log.jsonl` and the kept encoders as `<name>-<share>.npz` (differences, `keep_change`) into `out`.

    :param base: the published weights, as `weights.read` gives them
    :param corpus: (voice, Clip) of what is spoken
    """
    log = Log(Path(out) / f'{name}.log.jsonl', name)
    torch.manual_seed(plan.seed)
    torch.set_float32_matmul_precision('high')
    floats = weights.floats(base)
    student, teacher = weights.build(floats, device), weights.build(floats, device)
    teacher.requires_grad_(False)
    texts, right = label(teacher, tokens, [clip for _, clip in corpus], device)
    taken = [(i, text) for i, text in enumerate(texts) if text is not None]
    spoken = [(corpus[i][0], corpus[i][1].samples) for i, _ in taken]
    hours = round(sum(len(s) for _, s in spoken) / RATE / 3600, 3)
    log('corpus', clips=len(spoken), hours=hours, heard_right=round(right, 3), left_out=len(texts) - len(taken))
    mixer = Mixer(spoken, [tokens.encode(text) for _, text in taken], noises, echoes, device, plan.seed)
    log('base', **looks(teacher))

    for parameter_name, parameter in student.named_parameters():
        parameter.requires_grad_(parameter_name.startswith(ENCODER))
    live = [p for p in student.parameters() if p.requires_grad]
    optimiser = torch.optim.AdamW(live, lr=plan.rate, betas=(0.9, 0.98), weight_decay=0, fused=device != 'cpu')
    average = copy.deepcopy(student)
    means = [p for n, p in average.named_parameters() if n.startswith(ENCODER)]
    kept, queue, recent, step, began = list(plan.keep_at), iter(()), [], 0, time.time()
    while True:
        done = min(1.0, max((time.time() - began) / plan.seconds, step / plan.steps))
        while kept and done >= kept[0]:
            keep_change(Path(out) / f'{name}-{round(100 * kept.pop(0))}.npz', floats, encoder_weights(average))
        if done >= 1:
            break
        batch = next(queue, None)
        if batch is None:
            # Many items at once, so that enough of nearly one length are among them to fill a batch.
            queue = mixer.batches(max(8, int(6 * plan.size)), plan.size)
            continue
        for group in optimiser.param_groups:
            group['lr'] = plan.rate * min(1, (step + 1) / plan.warm_up) * (0.02 + 0.98 * (1 + math.cos(math.pi * done)) / 2)
        loss, words, match = losses(student, teacher, batch, plan)
        loss.backward()
        norm = torch.nn.utils.clip_grad_norm_(live, 1.0)
        if torch.isfinite(norm):
            optimiser.step()
        optimiser.zero_grad(set_to_none=True)
        step += 1
        # At the start the mean is over all steps so far, later over the last few hundred.
        torch._foreach_lerp_([m.data for m in means], [p.data for p in live], 1 - min(plan.mean, step / (step + 10)))
        recent.append(torch.stack([words, match, norm]))
        if step % 50 == 0:
            words, match, norm = torch.stack(recent).mean(0).tolist()
            log('step', step=step, done=round(done, 3), words=round(words, 3), match=round(match, 4), norm=round(norm, 2))
            recent = []
        if step % plan.look_every == 0:
            log('look', step=step, done=round(done, 3), **looks(average.eval()))
    log('trained', steps=step)


def keep_change(path, base, changed):
    """Writes the change of each weight as whole numbers from -127 to 127 and one scale: 6 MB, finer than the published file can hold."""
    arrays = {}
    for name, value in changed.items():
        change = value - base[name]
        scale = float(np.abs(change).max()) / 127
        if scale > 0:
            arrays[name], arrays[f'{name}|scale'] = np.rint(change / scale).astype(np.int8), np.float32(scale)
    np.savez_compressed(path, **arrays)


def kept_change(path):
    """What `keep_change` wrote: float32 changes by name."""
    with np.load(path) as arrays:
        return {n: arrays[n].astype(np.float32) * arrays[f'{n}|scale'] for n in arrays.files if not n.endswith('|scale')}


def mixed(base, change, share):
    """Base weights plus a share of the change, as they will be after rounding: float arrays of the changed names."""
    floats = weights.floats({name: base[name] for name in change})
    return weights.as_shipped(base, {name: floats[name] + share * change[name] for name in change})


def compare(base, changes, looks, name, out, device):
    """Every mix of every kept change on all test beds: one line each at the end of `<name>.log.jsonl`.

    :param changes: (name, change, shares to try)
    """
    log = Log(Path(out) / f'{name}.log.jsonl', name)
    model = weights.build(weights.floats(base), device)
    log('mix', change='base', share=0, **looks(model, whole=True))
    for change_name, change, shares in changes:
        for share in shares:
            set_encoder(model, mixed(base, change, share))
            log('mix', change=change_name, share=share, **looks(model, whole=True))


def table(logs):
    """The mixes in logs as lines of text: word errors per bed, and words invented where nobody speaks."""
    rows = [json.loads(line) for path in logs for line in Path(path).read_text().splitlines()]
    rows = [row for row in rows if row['what'] == 'mix']
    beds = list(dict.fromkeys(key for row in rows for key, value in row.items() if isinstance(value, dict)))
    yield ' | '.join(['change', 'share', *beds])
    for row in rows:
        found = [row.get(bed, {}) for bed in beds]
        yield ' | '.join([row['change'], str(row['share']), *(f'{f["errors"]:.1f}' if 'errors' in f else str(f.get('invented', '')) for f in found)])
