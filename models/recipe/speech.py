"""The spoken corpus: which sentence is said by which voices, spoken in parallel and kept on disk."""

import json
import random
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path

import numpy as np

from .sentences import Corpus, words_of
from .voices import SHARES, Saying, choose_voice, speak

# How many voices say each sentence, by its origin. Cues are the least like talk, and the most of all.
VOICES_EACH = {"narrations": 4, "sayings": 4, "cues": 2, "texts": 2, "commands": 4, "numbers": 6, "fillers": 2}
CONTEXTS = 12
"""How often each word of the vocabulary is said among words drawn by chance, so that rare ones are heard too."""
SALAD_WORDS = 7


def plan(corpus: Corpus, seed: int, engines: dict[str, float] = SHARES) -> list[Saying]:
    """
    What is to be said, in an order drawn by chance.

    :param engines: how often each speaks
    """
    rng = random.Random(seed)
    texts: list[str] = []
    for origin, sentences in corpus.by_origin.items():
        texts += [s for s in sorted(set(sentences)) for _ in range(VOICES_EACH[origin])]
    for _ in range(CONTEXTS):
        words = corpus.vocabulary[:]
        rng.shuffle(words)
        texts += [" ".join(words[i : i + SALAD_WORDS]) for i in range(0, len(words), SALAD_WORDS)]
    rng.shuffle(texts)
    return [Saying(text, *choose_voice(rng, engines)) for text in texts]


def _speak(saying: Saying) -> np.ndarray | str:
    try:
        return speak(saying)
    except (RuntimeError, OSError, IndexError) as error:
        return str(error)


def record(sayings: list[Saying], folder: Path, part: str, workers: int) -> None:
    """
    Speaks everything into `folder`: PART.pcm (int16 at 16 kHz, end to end) and PART.jsonl (voice, words, samples).
    A saying that fails is left out and counted; more than one in a hundred is an error.
    """
    folder.mkdir(parents=True, exist_ok=True)
    failures: list[str] = []
    total = 0
    with (
        ProcessPoolExecutor(workers) as pool,
        open(folder / f"{part}.pcm", "wb") as sound,
        open(folder / f"{part}.jsonl", "w", encoding="utf-8") as index,
    ):
        for saying, spoken in zip(sayings, pool.map(_speak, sayings, chunksize=16), strict=True):
            if isinstance(spoken, str):
                failures.append(spoken)
                continue
            sound.write(spoken.tobytes())
            entry = asdict(saying) | {"words": words_of(saying.text), "samples": len(spoken)}
            index.write(json.dumps(entry) + "\n")
            total += len(spoken)
    print(
        f"{part}: {len(sayings) - len(failures)} sayings, {total / 16000 / 3600:.2f} h, {len(failures)} failed",
        flush=True,
    )
    if len(failures) > len(sayings) / 100:
        raise RuntimeError(f"{len(failures)} of {len(sayings)} sayings failed, the first: {failures[0]}")


def recorded(folder: Path) -> tuple[np.ndarray, list[dict]]:
    """All parts in the folder: the samples end to end, and for each saying its entry with `start`, its first sample."""
    sounds, entries, start = [], [], 0
    for index in sorted(folder.glob("*.jsonl")):
        lines = index.read_text(encoding="utf-8").splitlines()
        sound = np.fromfile(index.with_suffix(".pcm"), np.int16)
        at = 0
        for line in lines:
            entry = json.loads(line)
            entries.append(entry | {"start": start + at})
            at += entry["samples"]
        sounds.append(sound[:at])
        start += at
    if not entries:
        raise FileNotFoundError(f"{folder}: no speech here, run the step speech first")
    return np.concatenate(sounds), entries
