"""
python -m recipe all: from the project's texts to a packed, measured model. Each step can be run alone: see README.md.

Run it in the folder above this package.
"""

import argparse
import os
import subprocess
import sys
from pathlib import Path

from .lexicon import lexicon
from .sentences import PROJECT, Corpus

SEED = 7
SAYINGS = 61_000
NEURAL_SAYINGS = 910
"""Kokoro needs about two seconds of a processor's core for one of speech; these are half an hour of speech."""
NEURAL_AGAIN = 7
"""How often more each of them is learnt from: the neural voice is the nearest to people's."""


def speech(args: argparse.Namespace) -> None:
    """Speaks the corpus: the quick voices, then the neural one."""
    from .speech import plan, record

    corpus = Corpus(args.seed)
    quick = plan(corpus, args.seed)[: round(SAYINGS * args.share)]
    record(quick, args.work / "speech", "quick", args.workers)
    neural = plan(corpus, args.seed, {"kokoro": 1})[: round(NEURAL_SAYINGS * args.share)]
    record(neural, args.work / "speech", "neural", args.workers)


def train(args: argparse.Namespace) -> None:
    """Trains on what was spoken: a seventh of it suffices to learn what is said."""
    from .speech import recorded
    from .training import Trainer

    sound, entries = recorded(args.work / "speech")
    print(f"{len(entries)} sayings, {len(sound) / 16000 / 3600:.2f} h", flush=True)
    pronounced = lexicon(sorted({word for entry in entries for word in entry["words"]}))
    quick = [e for e in entries if e["engine"] != "kokoro"]
    neural = [e for e in entries if e["engine"] == "kokoro"]
    trainer = Trainer(sound, quick[: len(quick) // 7], pronounced, args.seed, args.device)
    trainer.normalise()
    trainer.learn("ctc", args.ctc, 2e-3, args.work / "ctc.pt")
    trainer = Trainer(sound, quick + neural * (1 + NEURAL_AGAIN), pronounced, args.seed, args.device)
    trainer.load(args.work / "ctc.pt")
    trainer.align(by_spikes=True)
    trainer.learn("frames", args.frames, 2e-3, args.work / "frames.pt")


def pack(args: argparse.Namespace) -> None:
    """Writes the model as a folder and as an archive."""
    from .packing import pack as packed

    packed(args.work / "frames.pt", Corpus(args.seed), args.work / "model", args.out / "model.tar.gz")


def measure(args: argparse.Namespace) -> None:
    """Prints what the packed model hears."""
    from .measuring import measure as measured

    measured(args.work / "model", args.work, args.lines)


STEPS = {"speech": speech, "train": train, "pack": pack, "measure": measure}


def main() -> None:
    """Reads the command line."""
    parser = argparse.ArgumentParser(prog="python -m recipe", description=__doc__)
    parser.add_argument("step", choices=[*STEPS, "all", "check"])
    parser.add_argument(
        "--work", type=Path, default=PROJECT / ".cache/recipe", help="folder for what is made on the way"
    )
    parser.add_argument("--out", type=Path, default=PROJECT / "models/synthetic-en", help="pack: folder of the archive")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--workers", type=int, default=os.cpu_count(), help="speech: synthesisers at a time")
    parser.add_argument("--share", type=float, default=1.0, help="speech: of all sayings, less for a trial")
    parser.add_argument("--device", default="cpu", help="train: cpu or cuda")
    parser.add_argument("--ctc", type=int, default=40, help="train: rounds to learn what is said")
    parser.add_argument("--frames", type=int, default=15, help="train: rounds to learn when")
    parser.add_argument("--lines", type=int, help="measure: on so many lines, not all")
    args = parser.parse_args()
    if args.step == "check":
        from .check import check

        check()
        return
    if args.step != "all":
        STEPS[args.step](args)
        return
    for step in STEPS:
        # A process each: kaldifst and vosk hold OpenFst both, and one loaded after the other waits for ever.
        subprocess.run([sys.executable, "-m", "recipe", step, *(a for a in sys.argv[1:] if a != "all")], check=True)


if __name__ == "__main__":
    main()
