"""Lines as the recogniser garbles them: dev narrations and procedures, spoken by robotic voices, some lines run together, beside a tap at
several levels, heard greedily by the tuned ear.

One row for each stretch that is heard: what was said in it, as labels, and what was heard.
"""
import io
import json
import random
import subprocess
import wave
import zlib
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from ..ear import measuring, sound, tokens, weights
from .data import ROOT, read

#: flite's voices that teach, and who speaks as the second person beside each. joe and awb measure, so they teach nothing.
TEACHERS = {'slt': 'rms', 'rms': 'slt', 'kal16': 'slt'}
#: dB of speech over the tap; None is a closed tap.
LEVELS = (None, 20, 15, 10, 10, 5)
#: How often every narration is heard, each time by another voice or beside another tap.
ROUNDS = 2
#: Share of lines that are run together with the next, as speech detection joins them where the pause is short.
JOINED = 0.15
#: Silence between lines that are run together, in samples: 0.3 s.
PAUSE = np.zeros(4800, np.float32)


def scripts():
    """(id, procedure, lines) of every dev narration, and of every narration and the traps of every procedure."""
    for path in sorted((ROOT / 'tests/speech/narrations').glob('*.yaml')):
        narration = read(path)
        if narration['split'] == 'dev':
            yield path.stem, narration['skill'], narration['lines']
    for path in sorted((Path(__file__).parent.parent / 'procedures').glob('*.yaml')):
        procedure = read(path)
        told = [narration['lines'] for narration in procedure['narrations']] + [procedure['traps']]
        for i, lines in enumerate(told):
            yield f'{procedure["id"]}-{i}', procedure['id'], lines


def stretches():
    """What is to be heard: rows without what was heard, each with the voices that speak its lines."""
    for number in range(1, ROUNDS + 1):
        for name, procedure, lines in scripts():
            script = f'{name}#{number}'
            lot = random.Random(zlib.crc32(script.encode()))
            voice, level, at = lot.choice(list(TEACHERS)), lot.choice(LEVELS), 0
            while at < len(lines):
                taken = lines[at : at + (2 if lot.random() < JOINED else 1)]
                at += len(taken)
                said = [
                    {'say': line['say'], 'by': line.get('by', 'trainee'), 'credits': line.get('credits', []), 'either': line.get('either', [])}
                    | ({'note': line['note']} if 'note' in line else {})
                    for line in taken
                ]
                row = {'script': script, 'procedure': procedure, 'voice': voice, 'level': level, 'said': said}
                yield row, [(TEACHERS[voice] if line['by'] == 'other' else voice, line['say']) for line in said]


def speak(saying):
    """The samples of one line by one of flite's voices.

    :raises ValueError: flite says nothing, or at another rate
    """
    voice, text = saying
    spoken = subprocess.run(['flite', '-voice', voice, '-t', text, '-o', '/dev/stdout'], check=True, capture_output=True).stdout
    with wave.open(io.BytesIO(spoken)) as file:
        if file.getframerate() != sound.RATE:
            raise ValueError(f'flite -voice {voice} speaks at {file.getframerate()} samples a second, not {sound.RATE}.')
    # The header's length is wrong where flite writes into a pipe.
    clip = sound.spoken(sound.from_int16(np.frombuffer(spoken[44 : 44 + (len(spoken) - 44) // 2 * 2], np.int16)))
    if len(clip) == 0:
        raise ValueError(f'flite -voice {voice} says nothing of {text!r}.')
    return clip


def hear(ear, out, device, processes):
    """Speaks and hears everything and writes it into `out`, one JSON object a line.

    :param ear: folder of the installed model, or what `recipe.ear.weights.keep` wrote of it, with `tokenizer.bin` beside it
    """
    known = weights.kept(ear) if ear.suffix == '.npz' else weights.read(ear)
    spelling = tokens.Tokens((ear.parent if ear.suffix == '.npz' else ear) / 'tokenizer.bin')
    model = weights.build(weights.floats(known), device)
    planned = list(stretches())
    sayings = list(dict.fromkeys(saying for _, voices in planned for saying in voices))
    with ProcessPoolExecutor(processes) as pool:
        spoken = dict(zip(sayings, pool.map(speak, sayings, chunksize=32)))
    print(f'heard: {len(sayings)} lines are spoken', flush=True)
    for level in dict.fromkeys(LEVELS):
        own = [(row, voices) for row, voices in planned if row['level'] == level]
        clips = []
        for _, voices in own:
            parts = [part for saying in voices for part in (spoken[saying], PAUSE)][:-1]
            clips.append(measuring.Clip('', '', np.concatenate(parts)))
        noisy = measuring.under_noise(clips, level, 8_000_000 + (level or 0), processes)
        for (row, _), text in zip(own, measuring.hear(model, spelling, noisy, device)):
            row['heard'] = text.strip()
        print(f'heard: {len(own)} stretches at {level} dB', flush=True)
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(''.join(json.dumps(row, ensure_ascii=False) + '\n' for row, _ in planned))
