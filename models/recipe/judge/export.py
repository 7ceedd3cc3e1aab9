"""Trained weights as the two files that the program reads: `judge.onnx` (int8) and `judge.tokenizer.json`."""
import shutil

import numpy as np
import onnxruntime
import torch
from onnxruntime.quantization import QuantType, quantize_dynamic
from safetensors.torch import load_file, save_file

from .network import Judge


def keep(judge, out):
    """Keeps trained weights as float16: they travel in half the size and lose nothing that int8 would not."""
    out.mkdir(parents=True, exist_ok=True)
    save_file({k: v.detach().half().contiguous().cpu() for k, v in judge.state_dict().items()}, out / 'trained.safetensors')


def load(path):
    weights = {k: v.float() for k, v in load_file(path).items()}
    judge = Judge(len(weights['words.weight']))
    judge.load_state_dict(weights)
    return judge.eval()


def export(path, pieces, corpus, base, out):
    """Writes the int8 model and says how far its probabilities are from the trained network's."""
    judge = load(path)
    whole = out / 'judge.fp32.onnx'
    pair = pieces.batch([pieces.sequence('I wet my hands.', 'Wet the hands'), pieces.sequence('Now.', 'Turn on the tap')], 'cpu')
    example = tuple(t.int() for t in pair)
    torch.onnx.export(
        judge, example, str(whole), dynamo=False, opset_version=17, input_names=['ids', 'kinds'],
        output_names=['score', 'embedding'],
        dynamic_axes={'ids': {0: 'batch', 1: 'tokens'}, 'kinds': {0: 'batch', 1: 'tokens'},
                      'score': {0: 'batch'}, 'embedding': {0: 'batch'}},
    )
    quantize_dynamic(whole, out / 'judge.onnx', weight_type=QuantType.QInt8, per_channel=True, reduce_range=False,
                     op_types_to_quantize=['MatMul', 'Gather'])
    shutil.copy(base / 'tokenizer.json', out / 'judge.tokenizer.json')
    compare(judge, out / 'judge.onnx', pieces, corpus)


def compare(judge, path, pieces, corpus):
    session = onnxruntime.InferenceSession(str(path), providers=['CPUExecutionProvider'])
    lines = [line for line in corpus.lines if not line.held_out and line.says][::37][:200]
    gaps = []
    for line in lines:
        steps = corpus.procedures[line.procedure][:8]
        ids, kinds = pieces.batch([pieces.sequence(line.text, s.text, line.before) for s in steps], 'cpu')
        with torch.no_grad():
            exact = torch.sigmoid(judge(ids, kinds)[0]).numpy()
        (score,) = session.run(['score'], {'ids': ids.int().numpy(), 'kinds': kinds.int().numpy()})
        gaps += list(np.abs(1 / (1 + np.exp(-score)) - exact))
    print(f'{path}: {path.stat().st_size / 1e6:.1f} MB; probabilities differ from the trained network by '
          f'{np.mean(gaps):.4f} in the mean, {np.quantile(gaps, 0.99):.3f} in one of a hundred, {max(gaps):.3f} at most')
