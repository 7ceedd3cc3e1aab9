"""The tuned recogniser as a difference to the published one: one zlib stream, and the catalogue's entry for it."""
import datetime
import hashlib
import json
import zlib
from pathlib import Path

import numpy as np

from . import weights

ID = 'moonshine-tiny-en-tap'
#: The most that the difference may weigh, in bytes.
LARGEST = 6_000_000


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def apply(base_folder, changed, out):
    """Writes a whole model into `out`: the base's files, with changed weights in those they belong to.

    :param changed: name to whole new weight (float arrays)
    :returns: names of the changed files
    """
    base_folder, out = Path(base_folder), Path(out)
    out.mkdir(parents=True, exist_ok=True)
    files = []
    for path in sorted(base_folder.iterdir()):
        side = next((side for side, file in weights.FILES.items() if file == path.name), None)
        mine = side and any(name.startswith('model.encoder.') == (side == 'encoder') for name in changed)
        data = weights.put(base_folder, changed, side) if mine else path.read_bytes()
        if data != path.read_bytes():
            files.append(path.name)
        (out / path.name).write_bytes(data)
    return files


def deflate(pairs):
    """One zlib stream of (result - base) mod 256 of every byte, file after file. The smaller of two ways: a dense change has no repeats
    to find, and Huffman codes alone are then smaller.

    :param pairs: (base bytes, result bytes) of each changed file
    """
    raw = b''.join((np.frombuffer(r, np.uint8) - np.frombuffer(b, np.uint8)).tobytes() for b, r in pairs)

    def pressed(strategy):
        stream = zlib.compressobj(9, zlib.DEFLATED, 15, 9, strategy)
        return stream.compress(raw) + stream.flush()

    return min((pressed(s) for s in (zlib.Z_HUFFMAN_ONLY, zlib.Z_DEFAULT_STRATEGY)), key=len)


def inflate(base, difference):
    """The results of changed files, given their bases in the same order."""
    raw = np.frombuffer(zlib.decompress(difference), np.uint8)
    ends = np.cumsum([len(b) for b in base])
    return [(np.frombuffer(b, np.uint8) + raw[end - len(b) : end]).tobytes() for b, end in zip(base, ends)]


def pack(base_folder, tuned_folder, out, made_by):
    """Writes `difference.zlib` and `entry.json` (for models/catalog.json) of a tuned model.

    :raises ValueError: the sizes differ, nothing changed, the difference is too large, or does not give the result back
    """
    base_folder, tuned_folder, out = Path(base_folder), Path(tuned_folder), Path(out)
    order = [*weights.FILES.values(), 'tokenizer.bin']
    base = {name: (base_folder / name).read_bytes() for name in order}
    tuned = {name: (tuned_folder / name).read_bytes() for name in order}
    if other := [name for name in order if len(base[name]) != len(tuned[name])]:
        raise ValueError(f'{other[0]}: base and tuned differ in size; only weights of the same graph can be packed')
    changed = [name for name in order if base[name] != tuned[name]]
    if not changed:
        raise ValueError(f'{tuned_folder}: nothing differs from {base_folder}')
    difference = deflate([(base[name], tuned[name]) for name in changed])
    if inflate([base[name] for name in changed], difference) != [tuned[name] for name in changed]:
        raise ValueError('the packed difference does not give the tuned files back')
    if len(difference) > LARGEST:
        raise ValueError(f'the difference is {len(difference)} bytes, more than {LARGEST}: take a smaller share of the change')
    out.mkdir(parents=True, exist_ok=True)
    (out / 'difference.zlib').write_bytes(difference)
    entry = {
        'id': ID,
        'engine': 'moonshine',
        'language': 'en',
        'licence': 'MIT',
        'note': 'moonshine-tiny-en trained on by us for rooms with a running tap.',
        'files': [{'path': name, 'bytes': len(tuned[name]), 'sha256': sha256(tuned[name])} for name in order],
        'sources': [
            {
                'kind': 'difference',
                'base': 'moonshine-tiny-en',
                'file': 'difference.zlib',
                'bytes': len(difference),
                'sha256': sha256(difference),
                'changes': [{'path': name, 'baseSha256': sha256(base[name])} for name in changed],
                'madeBy': f'models/recipe/ear, {made_by}, {datetime.date.today().isoformat()}',
            }
        ],
    }
    (out / 'entry.json').write_text(json.dumps(entry, indent=2) + '\n')
    return entry
