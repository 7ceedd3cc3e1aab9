"""Word errors: the tests' own spelling of texts (tests/speech/bench/wordErrors.ts), errors by kind, intervals, and greedy hearing in batches."""
import json
import re
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from . import sound
from ..sentences import number_words
from .tokens import BEGIN, END

SPELLINGS = {
    'ok': 'okay', 'mr': 'mister', 'mrs': 'missus', 'dr': 'doctor', 'gonna': 'going to', 'wanna': 'want to', 'cannot': 'can not',
    "can't": 'can not', "won't": 'will not', "let's": 'let us', 'alright': 'all right',
}  # fmt: skip
HESITATIONS = {'um', 'uh', 'hmm', 'hm', 'mm', 'uhm', 'er', 'erm'}
IS_AFTER = set('he she it that there here what who where how this everything'.split())
TAILS = {"n't": ' not', "'m": ' am', "'re": ' are', "'ve": ' have', "'ll": ' will', "'d": ' would'}
#: Tokens a second of sound, beyond which a loop is cut off, as the program does.
TOKENS_A_SECOND = 6.5
#: Seconds of quiet at both ends of a clip, at least: what the program's speech detection leaves on.
MARGIN = 0.2
#: Level of that quiet, in dB relative to full scale. Never zeros: the group norm runs over the whole input.
FLOOR = -75
#: Clips are lengthened to 0.7 s and its multiples by this factor, so that many are of exactly one length and need no filling in a batch: a clip
#: whose noise stops before its end is heard worse.
STEP = 1.15


def _written_out(word):
    def once(w):
        if w in SPELLINGS:
            return SPELLINGS[w]
        found = re.fullmatch(r"(.*)('s|n't|'m|'re|'ve|'ll|'d)", w)
        if not found:
            return w.replace("'", '')
        stem, tail = found.groups()
        if tail == "'s":
            return f'{stem} is' if stem in IS_AFTER else f'{stem}s'
        return stem + TAILS[tail]

    written = once(word)
    return written if written == word else ' '.join(_written_out(w) for w in written.split(' '))


def _number(digits):
    n = int(digits)
    if n < 1_000_000:
        return f'{number_words(n // 1000)} thousand{" " + number_words(n % 1000) if n % 1000 else ""}' if n > 9999 else number_words(n)
    return ' '.join(number_words(int(d)) for d in str(n))


def normalize(text):
    """A text's words in one spelling: as `normalize` of tests/speech/bench/wordErrors.ts."""
    text = re.sub('[’‘]', "'", text.lower())
    text = re.sub(r'(\d),(?=\d{3}\b)', r'\1', text)
    text = re.sub(r'\d+', lambda m: f' {_number(m.group())} ', text)
    text = re.sub(r"[^a-z' ]", ' ', text)
    words = [w for word in text.split() for w in _written_out(word.strip("'")).split(' ')]
    return [w for w in words if w and w not in HESITATIONS]


@dataclass(frozen=True)
class Errors:
    substituted: int
    deleted: int
    inserted: int
    words: int

    @property
    def all(self):
        return self.substituted + self.deleted + self.inserted


def errors(reference, heard):
    """Between two texts, by the cheapest alignment (substitution 4, gap 3, as NIST's sclite)."""
    wanted, got = normalize(reference), normalize(heard)
    row = [(3 * j, 0, 0, j) for j in range(len(got) + 1)]
    for i, word in enumerate(wanted):
        following = [(3 * (i + 1), 0, i + 1, 0)]
        for j, other in enumerate(got):
            cost, s, d, n = row[j]
            across = (cost, s, d, n) if word == other else (cost + 4, s + 1, d, n)
            cost, s, d, n = row[j + 1]
            up = (cost + 3, s, d + 1, n)
            cost, s, d, n = following[j]
            left = (cost + 3, s, d, n + 1)
            following.append(min(across, up, left, key=lambda cell: cell[0]))
        row = following
    _, s, d, n = row[-1]
    return Errors(s, d, n, len(wanted))


@dataclass(frozen=True)
class Clip:
    """`bed`: the set it belongs to. `text` is empty where nothing is said."""

    bed: str
    text: str
    samples: np.ndarray


def save_clips(path, clips):
    np.savez_compressed(
        path,
        about=np.array(json.dumps([[c.bed, c.text, len(c.samples)] for c in clips])),
        samples=np.concatenate([sound.to_int16(c.samples) for c in clips]),
    )


def load_clips(path):
    with np.load(path) as stored:
        about, samples = json.loads(str(stored['about'])), sound.from_int16(stored['samples'])
    ends = np.cumsum([n for _, _, n in about])
    return [Clip(bed, text, samples[end - n : end]) for (bed, text, n), end in zip(about, ends)]


def fitted(samples, rng):
    """The samples in the middle of a quiet floor, as long as the next step."""
    least = len(samples) + 2 * int(MARGIN * sound.RATE)
    steps = max(0, int(np.ceil(np.log(least / (0.7 * sound.RATE)) / np.log(STEP) - 1e-9)))
    out = rng.standard_normal(max(least, int(0.7 * sound.RATE * STEP**steps))) * 10 ** (FLOOR / 20)
    at = (len(out) - len(samples)) // 2
    out[at : at + len(samples)] += samples
    return out.astype(np.float32)


def _under_noise(task):
    from . import noise

    clip, snr, seed, kind, recorded = task
    rng = np.random.default_rng(seed)
    samples = fitted(clip.samples, rng)
    if recorded is not None:
        samples = sound.mix(samples, np.resize(np.roll(recorded, rng.integers(len(recorded))), len(samples)), snr)
    elif snr is not None:
        samples = sound.mix(samples, noise.KINDS[kind](len(samples), rng), snr)
    return Clip(clip.bed, clip.text, samples)


def under_noise(clips, snr, seed, processes=1, recorded=()):
    """The same clips, fitted, each under noise of its own; `snr` None: without. Seeds lie far from those of training.

    :param recorded: recordings (samples) to take by turns instead of made noise
    """
    turn = lambda these, i: these[i % len(these)] if these else None
    tasks = [(clip, snr, [seed, i], turn(('tap', 'sink'), i), turn(recorded, i)) for i, clip in enumerate(clips)]
    if processes == 1 or snr is None:
        return list(map(_under_noise, tasks))
    with ProcessPoolExecutor(processes) as pool:
        return list(pool.map(_under_noise, tasks, chunksize=8))


def noise_alone(count, seed):
    """Clips in which nobody speaks, 1 to 10 s, -50 to -25 dB: whatever is heard of them is invented."""
    from . import noise

    made, kinds = [], list(noise.KINDS)
    for i in range(count):
        rng = np.random.default_rng([seed, i])
        length = len(fitted(np.zeros(int(rng.uniform(1, 10) * sound.RATE)), rng))
        samples = noise.KINDS[kinds[i % len(kinds)]](length, rng)
        level = 10 ** (rng.uniform(-50, -25) / 20) / np.sqrt(np.mean(samples**2) + 1e-12)
        made.append(Clip('noise', '', np.clip(samples * level, -1, 1).astype(np.float32)))
    return made


def by_length(lengths, most, within):
    """Indices in groups of nearly one length: the longest at most `within` times the shortest, and `most` samples in all."""
    groups, group = [], []
    for i in np.argsort(lengths, kind='stable'):
        if group and (lengths[i] > lengths[group[0]] * within or lengths[i] * (len(group) + 1) > most):
            groups.append(group)
            group = []
        group.append(int(i))
    return [*groups, group] if group else groups


def hear(model, tokens, clips, device, seconds=1500):
    """What the model hears of fitted clips, greedily, in batches of exactly one length and so many seconds at most."""
    import torch

    heard = [''] * len(clips)
    with torch.no_grad():
        for group in by_length([len(c.samples) for c in clips], seconds * sound.RATE, 1.0):
            batch = torch.from_numpy(np.stack([clips[i].samples for i in group])).to(device)
            most = int(np.ceil(batch.shape[1] / sound.RATE * TOKENS_A_SECOND))
            for i, ids in zip(group, greedy(model, batch, most)):
                heard[i] = tokens.decode(ids)
    return heard


def greedy(model, batch, most):
    """Token ids of each row, ended by END or after `most` tokens."""
    import torch

    encoded = model.model.encoder(batch)
    ids = torch.full((len(batch), 1), BEGIN, device=batch.device)
    past, ended = None, torch.zeros(len(batch), dtype=torch.bool, device=batch.device)
    for _ in range(max(5, most)):
        out = model(encoder_outputs=encoded, decoder_input_ids=ids[:, -1:], past_key_values=past, use_cache=True)
        past = out.past_key_values
        best = out.logits[:, -1].argmax(-1).masked_fill(ended, END)
        ids = torch.cat([ids, best[:, None]], 1)
        ended |= best == END
        if ended.all():
            break
    return [row[1 : row.index(END)] if END in row else row[1:] for row in ids.tolist()]


def summary(clips, heard, before=None, draws=1000):
    """Per bed: word errors in per cent with a 95 % interval (bootstrap over clips), their kinds, and invented words where nothing was said.

    :param before: what another model heard of the same clips; then also how far the errors went up or down, with its interval
    """
    counted, found = [errors(c.text, h) for c, h in zip(clips, heard)], {}
    earlier = [errors(c.text, h).all for c, h in zip(clips, before or ())]
    rng = np.random.default_rng(0)
    for bed in dict.fromkeys(c.bed for c in clips):
        own = [e for c, e in zip(clips, counted) if c.bed == bed]
        wrong, words = np.array([e.all for e in own]), np.array([e.words for e in own])
        total = int(words.sum())
        if total == 0:
            found[bed] = {'clips': len(own), 'invented': int(wrong.sum())}
            continue
        drawn = rng.integers(len(own), size=(draws, len(own)))
        rates = lambda wrong: 100 * wrong[drawn].sum(1) / words[drawn].sum(1)
        interval = lambda rates: [round(float(np.quantile(rates, q)), 1) for q in (0.025, 0.975)]
        share = lambda kind: round(100 * sum(getattr(e, kind) for e in own) / total, 2)
        found[bed] = {
            'clips': len(own),
            'words': total,
            'errors': share('all'),
            'interval': interval(rates(wrong)),
            'substituted': share('substituted'),
            'deleted': share('deleted'),
            'inserted': share('inserted'),
        }
        if before:
            change = wrong - np.array([e for c, e in zip(clips, earlier) if c.bed == bed])
            found[bed] |= {'change': round(100 * int(change.sum()) / total, 2), 'change_interval': interval(rates(change))}
    return found
