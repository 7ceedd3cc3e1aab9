"""
python -m recipe all: from the project's texts to a packed, measured model. Each step can be run alone: see README.md.

Run it in the folder above this package.
"""

import argparse
import os
from pathlib import Path

from .lexicon import lexicon
from .sentences import Corpus

SEED = 7


def _engines(text: str) -> dict[str, float]:
    from .voices import SHARES

    return {name: float(SHARES.get(name, 1)) for name in text.split(",")} if text else SHARES


def speech(args: argparse.Namespace) -> None:
    """Speaks the corpus, or a part of it."""
    from .speech import plan, record

    sayings = plan(Corpus(args.seed), args.seed, engines=_engines(args.engines))
    record(sayings[args.first : args.last], args.work / "speech", args.part, args.workers)


def train(args: argparse.Namespace) -> None:
    """Trains on what was spoken."""
    from .speech import recorded
    from .training import Trainer

    sound, entries = recorded(args.work / "speech")
    print(f"{len(entries)} sayings, {len(sound) / 16000 / 3600:.2f} h", flush=True)
    # Neural voices are few and the nearest to people's.
    entries += [e for e in entries if e["engine"] == "kokoro"] * args.kokoro_again
    trainer = Trainer(sound, entries, lexicon(Corpus(args.seed).vocabulary), args.seed, args.device)
    if args.start:
        trainer.load(args.start)
    else:
        trainer.normalise()
        trainer.learn("ctc", args.ctc, 2e-3, args.work / "ctc.pt")
    if args.frames:
        trainer.align(by_spikes=not args.start or args.start.stem == "ctc")
        peak = 2e-3 if args.start is None or args.start.stem == "ctc" else 1e-3
        trainer.learn("frames", args.frames, peak, args.work / "frames.pt")


def main() -> None:
    """Reads the command line."""
    parser = argparse.ArgumentParser(prog="python -m recipe", description=__doc__)
    parser.add_argument("step", choices=["speech", "train"])
    parser.add_argument("--work", type=Path, required=True, help="folder for what is made on the way")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--workers", type=int, default=os.cpu_count(), help="synthesisers at a time")
    parser.add_argument("--part", default="main", help="speech: name of the part to speak")
    parser.add_argument("--first", type=int, default=0, help="speech: first saying of the part")
    parser.add_argument("--last", type=int, default=None, help="speech: the saying after its last")
    parser.add_argument("--engines", default="", help="speech: only these, by comma")
    parser.add_argument("--device", default="cpu", help="train: cpu or cuda")
    parser.add_argument("--ctc", type=int, default=12, help="train: rounds to learn what is said")
    parser.add_argument("--frames", type=int, default=16, help="train: rounds to learn when")
    parser.add_argument("--start", type=Path, help="train: go on from this network")
    parser.add_argument("--kokoro-again", type=int, default=3, help="train: how often more neural voices are heard")
    args = parser.parse_args()
    {"speech": speech, "train": train}[args.step](args)


if __name__ == "__main__":
    main()
