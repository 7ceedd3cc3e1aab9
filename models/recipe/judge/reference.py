"""What reference implementations make of some lines, for the program's tests (tests/speech/recogniser/judgeReference.json): token ids by the base
model's own tokenizer (Python's `tokenizers`), probabilities by onnxruntime's native build."""
import json

import numpy as np
import onnxruntime
from tokenizers import Tokenizer


def write(corpus, pieces, base, judge, out):
    whole = Tokenizer.from_file(str(base / 'tokenizer.json'))
    whole.no_padding()
    whole.no_truncation()
    lines = [line for line in corpus.lines if not line.held_out and line.kind != 'heard']
    texts = list(dict.fromkeys(line.text for line in lines[:: len(lines) // 1150]))[:1100]
    known = set(pieces.tokenizer.get_vocab())
    for text in texts:
        original = whole.encode(text, add_special_tokens=False).tokens
        cut = pieces.tokenizer.encode(text, add_special_tokens=False).tokens
        if set(original) <= known:
            assert original == cut, text
    session = onnxruntime.InferenceSession(str(judge), providers=['CPUExecutionProvider'])
    pairs = []
    for line in [line for line in lines if line.says][::97][:60]:
        for step in corpus.procedures[line.procedure][:3]:
            ids, kinds = pieces.batch([pieces.sequence(line.text, step.text, line.before)], 'cpu')
            (score,) = session.run(['score'], {'ids': ids.int().numpy(), 'kinds': kinds.int().numpy()})
            pairs.append([line.before, line.text, step.text, round(float(1 / (1 + np.exp(-score[0]))), 4)])
    tokens = [[text, pieces.tokenizer.encode(text, add_special_tokens=False).ids] for text in texts]
    rows = lambda some: '[\n' + ',\n'.join(json.dumps(row, ensure_ascii=False, separators=(',', ':')) for row in some) + '\n]'
    out.write_text(f'{{"tokens":{rows(tokens)},\n"pairs":{rows(pairs)}}}\n')
    print(f'{len(tokens)} lines, {len(pairs)} pairs')
