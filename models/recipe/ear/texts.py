"""What is said in training: our own dev texts, numbers and commands, and plain English of everyday procedures, so that it is not forgotten.

Held-out narrations are read only to leave out lines that are the same by chance. An eighth of the dev narrations is left out of
training whole, told by name: neural test voices speak it.
"""
import random
import re
import zlib
from dataclasses import dataclass

import yaml

from .. import sentences

RECIPE = sentences.PROJECT / 'models/recipe'
#: How often each kind is said. Narrations most, since they are what is recognised; a tenth are bare everyday sentences.
SHARES = {'narration': 0.32, 'saying': 0.20, 'procedure': 0.20, 'number': 0.14, 'command': 0.05, 'plain': 0.09}
#: Longer lines are parted at their stops: training takes clips of up to 14 s, and Kokoro up to 400 phonemes.
LONGEST = 170


@dataclass(frozen=True)
class Line:
    kind: str
    text: str


def left_out(narration):
    """Is this dev narration kept for the neural test voices?"""
    return zlib.crc32(narration.encode()) % 8 == 0


def test_lines(seed, count=130, numbers=40):
    """What the neural test voices say: lines of dev narrations that training leaves out, and readings."""
    rng = random.Random(seed)
    lines = [text for name, said in sentences.narrations('dev').items() if left_out(name) for text in said]
    lines = [Line('narration', part) for text in dict.fromkeys(lines) for part in parts(text) if ' ' in part]
    # Another seed than training's, or they come out as the very readings that training says.
    other = random.Random(f'{seed} test numbers')
    said = other.sample(list(dict.fromkeys(readings(other, 400))), numbers)
    return rng.sample(lines, count) + [Line('number', text) for text in said]


def training_lines(seed, count):
    """So many lines in the order they are to be spoken, kinds mixed by `SHARES`: a beginning of it is a smaller corpus of the same mix."""
    rng = random.Random(seed)
    held_out = [text for said in sentences.narrations('held-out').values() for text in said]
    tests = [text for name, said in sentences.narrations('dev').items() if left_out(name) for text in said]
    tests += [line.text for line in test_lines(seed)]
    kept_out = {key(part) for text in held_out + tests for part in [text, *parts(text)]}
    pools = {kind: [t for t in dict.fromkeys(texts) if key(t) not in kept_out] for kind, texts in _pools(rng).items()}
    for pool in pools.values():
        rng.shuffle(pool)
    lines, taken = [], dict.fromkeys(pools, 0)
    for kind in rng.choices(list(SHARES), list(SHARES.values()), k=count):
        # A pool that is used up begins again: another voice will say it.
        lines.append(Line(kind, pools[kind][taken[kind] % len(pools[kind])]))
        taken[kind] += 1
    return lines


def key(text):
    """What two texts have in common when they are the same words."""
    return ' '.join(sentences.words_of(text))


def parts(text):
    """A text whole, or cut after its stops where it is too long to be said in one breath."""
    if len(text) <= LONGEST:
        return [text]
    found = []
    for part in re.split(r'(?<=[.?!;])\s+|(?<=,)\s+(?=and |then |so )', text):
        if found and len(found[-1]) + len(part) < LONGEST * 0.6:
            found[-1] += ' ' + part
        else:
            found.append(part)
    return [part for part in found if len(part) <= LONGEST * 1.3]


def _pools(rng):
    dev = [text for name, said in sentences.narrations('dev').items() if not left_out(name) for text in said]
    whole = {
        'narration': dev + sentences.skill_narrations(),
        'saying': sentences.sayings() + list(_said_steps()),
        'procedure': list(_procedure_lines()),
        'number': readings(rng, 900),
        'command': [as_sentence(c) for c in sentences.commands(rng, each=3)],
        'plain': [as_sentence(f) for f in sentences.fillers(rng, 900)],
    }
    return {kind: [part for text in texts for part in parts(text.strip()) if len(part) > 2] for kind, texts in whole.items()}


def _read(path):
    return yaml.load(path.read_text(), Loader=getattr(yaml, 'CSafeLoader', yaml.SafeLoader))


def _said_steps():
    for path in sorted((RECIPE / 'sayings').glob('*.yaml')):
        for step in _read(path)['steps'].values():
            for entry in [*step.get('says', ()), *step.get('not', ())]:
                yield entry if isinstance(entry, str) else entry['say']


def _procedure_lines():
    for path in sorted((RECIPE / 'procedures').glob('*.yaml')):
        for narration in _read(path).get('narrations', ()):
            for line in narration['lines']:
                yield line['say']


def as_sentence(text):
    """With a capital and a stop, as the recogniser writes."""
    text = re.sub(r'\bi\b', 'I', ' '.join(text.split()))
    return text[:1].upper() + text[1:] + ('' if text[-1:] in '.?!' else '.')


def hyphened(n):
    """21 is "twenty-one", 121 "one hundred twenty-one"."""
    return re.sub(r'\b(\w+ty) (one|two|three|four|five|six|seven|eight|nine)\b', r'\1-\2', sentences.number_words(n))


def as_read(n, rng):
    """A number as people read one out: 118 is "one eighteen", "one hundred eighteen" or "one hundred and eighteen"."""
    if n < 100 or n % 100 == 0:
        return hyphened(n)
    rest = hyphened(n % 100) if n % 100 > 9 else f'oh {hyphened(n % 100)}'
    whole = hyphened(n)
    return rng.choice([f'{hyphened(n // 100)} {rest}', whole, whole.replace('hundred ', 'hundred and ')])


def readings(rng, count):
    """Numbers as trainees say them: readings, pressures, counts, with the words around them."""
    frames = {
        (1, 60): [
            '{}.', 'I count {}.', 'I counted {} breaths.', '{} respirations a minute.', 'Respirations are {}.', 'That makes {}.',
            '{} seconds.', 'I scrub for {} seconds.', '{} times.', 'So {} in thirty seconds.', "I've got {} so far.",
        ],
        (40, 131): [
            'The pulse is {}.', '{} beats per minute.', 'I get {}.', "I'm writing down {}.", '{} and regular.', 'Her heart rate is {}.',
            'That is {}, a bit fast.', 'Pulse {}, strong.',
        ],
        (70, 320): ['She weighs {} pounds.', '{} pounds.', 'The scale says {}.', 'Today the weight is {} and a half.'],
        (5, 900): ['{} milliliters.', 'The output is {} milliliters.', 'I measure {} cc.', 'He drank {} milliliters of juice.'],
        (5, 101): ['She ate {} percent.', 'About {} percent of the tray.'],
    }  # fmt: skip
    pressures = ['{} over {}.', 'Blood pressure is {} over {}.', 'BP {} over {}.', 'I read {} over {}.', 'It is {} over {}, I record it.']
    said = []
    for _ in range(count):
        pick = rng.random()
        if pick < 0.25:
            text = rng.choice(pressures).format(as_read(rng.randrange(88, 200), rng), as_read(rng.randrange(46, 112), rng))
        elif pick < 0.33:
            start = rng.randrange(1, 21)
            text = ', '.join(hyphened(n) for n in range(start, start + rng.randrange(3, 7))) + '.'
        else:
            low, high = rng.choices(list(frames), [5, 4, 2, 2, 1])[0]
            n = rng.randrange(low, high)
            if low == 5 and high == 900:
                n -= n % 5
            text = rng.choice(frames[low, high]).format(as_read(max(1, n), rng))
        said.append(as_sentence(text))
    return said
