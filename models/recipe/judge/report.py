"""How well a judge judges: over narrations, over traps, and whether it finds what is worth judging."""
from collections import defaultdict

import torch

from .training import embed

#: Steps that are judged at once, as in the program (JUDGED in app/meaning/judge.ts).
SHOWN = 5
THRESHOLDS = (0.3, 0.5, 0.7, 0.85, 0.95)


@torch.no_grad()
def judged(judge, pieces, corpus, lines, device, shown=SHOWN):
    """For each line {step id: probability} of its nearest steps, and whether all that it says is among them."""
    texts = sorted({s.text for line in lines for s in corpus.procedures[line.procedure]})
    at = {text: i for i, text in enumerate(texts)}
    steps = embed(judge, pieces, [(text,) for text in texts], device)
    said = embed(judge, pieces, [(line.text, line.before) for line in lines], device)
    chosen = []
    for i, line in enumerate(lines):
        own = corpus.procedures[line.procedure]
        near = steps[torch.tensor([at[s.text] for s in own], device=device)] @ said[i]
        chosen.append([own[k] for k in near.topk(min(shown, len(own))).indices.tolist()])
    pairs = [(i, s) for i, some in enumerate(chosen) for s in some]
    results = [{} for _ in lines]
    for begin in range(0, len(pairs), 2048):
        some = pairs[begin : begin + 2048]
        scores, _ = judge(*pieces.batch([pieces.sequence(lines[i].text, s.text, lines[i].before) for i, s in some], device))
        for (i, s), sure in zip(some, torch.sigmoid(scores.float()).tolist()):
            results[i][s.id] = sure
    found = [line.says <= results[i].keys() for i, line in enumerate(lines)]
    return results, found


def report(judge, pieces, corpus, lines, name, device, log=print, **how):
    """Precision and recall of steps that can be said over narrations; share of lines that credit anything over traps."""
    narrated = [line for line in lines if line.narration]
    traps = [line for line in lines if line.kind == 'trap']
    if not narrated or not traps:
        raise ValueError(f'{name}: there is nothing to report on')
    results, found = judged(judge, pieces, corpus, narrated, device, **how)
    against, _ = judged(judge, pieces, corpus, traps, device, **how)
    whole = [f for line, f in zip(narrated, found) if line.says]
    log(f'{name}: {len(narrated)} lines, {len(traps)} traps; what is said is found {sum(whole) / max(1, len(whole)):.3f}')
    kinds = {p: {s.id: s for s in steps} for p, steps in corpus.procedures.items()}
    for threshold in THRESHOLDS:
        by = defaultdict(lambda: (set(), set(), set()))
        for line, result in zip(narrated, results):
            got, due, fair = by[line.procedure, line.narration]
            got |= {s for s, p in result.items() if p >= threshold}
            due |= line.says
            fair |= line.may
        hit = missed = false = critical = 0
        for (procedure, _), (got, due, fair) in by.items():
            steps = kinds[procedure]
            ordinary = {s for s in steps if steps[s].evidence == 'said'}
            got, due = got & ordinary, due & ordinary
            wrong = got - due - fair
            hit, missed, false = hit + len(got & due), missed + len(due - got), false + len(wrong)
            critical += sum(steps[s].critical for s in wrong)
        credit = [[s for s, p in result.items() if p >= threshold] for result in against]
        worse = sum(any(kinds[t.procedure][s].critical for s in c) for t, c in zip(traps, credit))
        log(
            f'  at {threshold}: precision {hit / max(1, hit + false):.3f} recall {hit / max(1, hit + missed):.3f} '
            f'critical {critical}; traps {sum(map(bool, credit)) / max(1, len(traps)):.3f} critical {worse}'
        )
