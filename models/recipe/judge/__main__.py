"""python -m recipe.judge STEP, in `models/`: see judge/README.md."""
import argparse
import dataclasses
import os
import zlib
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
WORK = ROOT / '.cache/judge'
EAR = ROOT / 'models/installed/moonshine-tiny-en-tap'


def folds(corpus):
    """Two ways to leave something out: `known` leaves out a third of the dev narrations and traps of the skills; `strange` leaves
    out every third skill and every third other procedure whole. Told by name, so that the same is left out always."""
    lot = lambda name: zlib.crc32(name.encode()) % 3 == 0
    dev = [line for line in corpus.lines if not line.held_out]
    skills = skill_names(corpus)
    yield 'known', dev, lambda line: line.procedure in skills and lot(
        line.narration or line.heard_of or (line.text if line.kind == 'trap' else 'kept')
    )
    yield 'strange', dev, lambda line: lot(line.procedure)


def trial(args, corpus, pieces):
    """Trains on what each fold leaves in, reports on what it leaves out, and keeps both judges for tuning how they are used."""
    from .export import keep
    from .report import report
    from .training import train

    skills = skill_names(corpus)
    for name, dev, out in folds(corpus):
        if args.fold and name != args.fold:
            continue
        learnt = dataclasses.replace(corpus, lines=[line for line in dev if not out(line)])
        print(f'{name}: {len(learnt.lines)} lines to learn from', flush=True)
        kept = partial(keep, out=Path(args.out) / name)
        judge = train(start(args), pieces, learnt, plan_of(args.set), args.device, kept)
        left = [line for line in dev if out(line)]
        report(judge, pieces, corpus, [line for line in left if line.procedure in skills], f'{name}, skills', args.device)
        if name == 'strange':
            others = [line for line in left if line.procedure not in skills]
            report(judge, pieces, corpus, others, f'{name}, other procedures', args.device)


def start(args):
    """What training goes on from."""
    from .export import load
    from .network import load_base

    return load(args.start) if args.start else load_base(WORK / 'base')


def plan_of(pairs):
    """The plan, with some fields set from NAME=VALUE."""
    from .training import Plan

    changes = dict(pair.split('=') for pair in pairs)
    return Plan(**{f.name: f.type(changes[f.name]) for f in dataclasses.fields(Plan) if f.name in changes})


def skill_names(corpus):
    return {line.procedure for line in corpus.lines if line.kind == 'narration'}


def main():
    parser = argparse.ArgumentParser(prog='recipe.judge')
    parser.add_argument('step', choices=['base', 'heard', 'trial', 'train', 'export', 'reference'])
    parser.add_argument('--device', default='cpu')
    parser.add_argument('--base', default=str(WORK / 'wheel'), help='folder of the base model as it comes')
    parser.add_argument('--ear', type=Path, default=EAR, help='folder of the recogniser that garbles the lines')
    parser.add_argument('--out', default=str(WORK), help='folder for what comes out')
    parser.add_argument('--start', help='weights trained before, to go on from instead of the base')
    parser.add_argument('--fold', help='known or strange alone')
    parser.add_argument('--set', action='append', default=[], help='NAME=VALUE of the plan')
    args = parser.parse_args()
    if args.step == 'base':
        from .base import cut, get

        cut(get(args.base), WORK / 'base')
        return
    if args.step == 'heard':
        from .heard import hear

        hear(args.ear, WORK / 'heard.jsonl', args.device, os.cpu_count())
        return
    from .data import whole_corpus
    from .network import Pieces

    own = WORK / 'heard.jsonl'
    corpus = whole_corpus(own if own.exists() else Path(__file__).parent / 'heard.jsonl.gz')
    pieces = Pieces.open(WORK / 'base')
    if args.step == 'trial':
        trial(args, corpus, pieces)
    elif args.step == 'train':
        from .export import keep
        from .training import train

        train(start(args), pieces, corpus, plan_of(args.set), args.device, partial(keep, out=Path(args.out)))
    elif args.step == 'export':
        from .export import export

        export(Path(args.out) / 'trained.safetensors', pieces, corpus, WORK / 'base', Path(args.out))
    elif args.step == 'reference':
        from .reference import write

        write(corpus, pieces, Path(args.base), ROOT / 'models/judge/judge.onnx', ROOT / 'tests/speech/recogniser/judgeReference.json')


main()
