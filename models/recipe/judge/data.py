"""What the judge learns from: lines that people might say, each with the steps it says.

A line belongs to a procedure (a skill of ours, or one of `procedures/`) and is judged against that procedure's steps.
Held-out narrations and the odd places of traps and corrections are read only to report.
"""
import gzip
import json
import random
import re
import zlib
from dataclasses import dataclass, field, replace
from pathlib import Path

import yaml

from .plain import said_plainly

ROOT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True)
class Line:
    """`says` and `may` hold step ids: what the line says, and what fair listeners differ about."""

    procedure: str
    text: str
    says: frozenset = frozenset()
    may: frozenset = frozenset()
    #: The line before it in its narration, where the same person said it.
    joins: 'Line | None' = None
    #: What was said before it, whoever said it: its last words.
    before: str = ''
    kind: str = 'narration'
    held_out: bool = False
    #: The narration it belongs to; empty for single lines.
    narration: str = ''
    #: The narration that the recogniser heard it in.
    heard_of: str = ''


@dataclass(frozen=True)
class Step:
    id: str
    text: str
    critical: bool = False
    #: said, timed, counted or reading
    evidence: str = 'said'


@dataclass
class Corpus:
    procedures: dict = field(default_factory=dict)
    lines: list = field(default_factory=list)


def read(path):
    return yaml.load(path.read_text(), Loader=getattr(yaml, 'CSafeLoader', yaml.SafeLoader))


def steps_of_skills():
    shared = {step['id']: step for step in read(ROOT / 'skills/care.yaml')['steps']}
    skills = {}
    for path in sorted((ROOT / 'skills').glob('*.yaml')):
        if path.stem in ('care', 'lexicon'):
            continue
        steps = []
        for entry in read(path)['steps']:
            step = {**shared.get(entry.get('use'), {}), **entry}
            kind = (step.get('evidence') or {}).get('kind', 'said')
            if kind != 'eyes':
                name = step.get('id', step.get('use'))
                steps.append(Step(name, step['text'], bool(step.get('critical')), kind))
        skills[path.stem] = steps
    return skills


def narrated(procedure, lines, known, *, kind, held_out, narration):
    """The lines of one narration; steps that were told and are critical are left open, the rules decide them."""
    critical = frozenset(step.id for step in known if step.critical)
    ids = frozenset(step.id for step in known)
    joins, before = None, ''
    for line in lines:
        says = frozenset(line.get('credits', [])) | frozenset(line.get('counts', {}))
        may = frozenset(line.get('either', []))
        may |= frozenset(line[key] for key in ('starts', 'stops', 'holds', 'resumes') if key in line) - says
        if 'told critical' in line.get('note', ''):
            may |= critical
        is_other = line.get('by') == 'other'
        if is_other:
            says, may = frozenset(), frozenset()
        told = Line(procedure, line['say'], says & ids, (may - says) & ids, joins, before, kind, held_out, narration)
        yield told
        joins = None if is_other else replace(told, joins=None)
        before = last_words(f'{before} {told.text}')


#: Words of what was said before that are kept; the judge reads no more tokens (FILLED_TOKENS in network.py).
KEPT_WORDS = 24


def last_words(text):
    return ' '.join(text.split()[-KEPT_WORDS:])


def whole_corpus(heard=None):
    """Everything there is. `heard`: a file that heard.ts wrote."""
    corpus = Corpus(procedures=steps_of_skills())
    skills = dict(corpus.procedures)
    lines = corpus.lines
    for path in sorted((ROOT / 'tests/speech/narrations').glob('*.yaml')):
        n = read(path)
        lines += narrated(n['skill'], n['lines'], skills[n['skill']], kind='narration',
                          held_out=n['split'] != 'dev', narration=path.stem)
    for skill, entry in read(ROOT / 'tests/rehearsal/sayings/sayings.yaml')['skills'].items():
        ids = frozenset(step.id for step in skills[skill])
        for step, sayings in entry['steps'].items():
            if step not in ids:
                continue
            for says in sayings.get('does', []):
                lines.append(Line(skill, says, frozenset([step]), frozenset(), kind='saying'))
            for says in sayings.get('not', []):
                # It denies this step; whether it says another nobody wrote down.
                lines.append(Line(skill, says, frozenset(), ids - {step}, kind='not'))
    for name, split in (('a', True), ('b', True), ('c', False), ('d', False), ('e', False)):
        for skill, kinds in read(ROOT / f'tests/rehearsal/traps/traps-{name}.yaml').items():
            if skill == 'asides':
                skill, kinds = 'hand-washing', {'aside': kinds}
            for sayings in kinds.values():
                for i, says in enumerate(sayings):
                    lines.append(Line(skill, says, kind='trap', held_out=split and i % 2 == 1))
    for i, entry in enumerate(read(ROOT / 'tests/rehearsal/traps/corrections.yaml')):
        before = CORRECTING[i % len(CORRECTING)] if entry.get('after') else ''
        lines.append(corrected(entry['skill'], entry['step'], entry['says'], bool(entry.get('told')), before, i % 2 == 1))
    for path in sorted((Path(__file__).parent.parent / 'procedures').glob('*.yaml')):
        p = read(path)
        steps = [Step(step['id'], step['text']) for step in p['steps']]
        corpus.procedures[p['id']] = steps
        for k, n in enumerate(p['narrations']):
            lines += narrated(p['id'], n['lines'], steps, kind='procedure', held_out=False, narration=f"{p['id']}-{k}")
        lines += [Line(p['id'], trap['say'], kind='trap') for trap in p['traps']]
    for path in sorted((Path(__file__).parent.parent / 'sayings').glob('*.yaml')):
        bank = read(path)
        lines += told_of(bank, skills if bank['skill'] == 'care' else corpus.procedures)
    for path in sorted((Path(__file__).parent.parent / 'traps').glob('*.yaml')):
        bank = read(path)
        lines += [Line(bank['skill'], trap['say'], kind='not') for trap in bank['traps']]
        lines += [Line(bank['skill'], told['say'], frozenset(told['credits']), before=told['before'], kind='after') for told in bank['after']]
    for procedure, steps in corpus.procedures.items():
        for step in steps:
            for says, does in said_plainly(step.text):
                kind, said = ('saying', {step.id}) if does else ('not', set())
                lines.append(Line(procedure, says, frozenset(said), frozenset(), kind=kind))
    for path in sorted((ROOT / 'tests/speech/negatives').glob('*.yaml')):
        texts = [line['say'] for line in read(path)['lines']]
        for skill in skills:
            for text in texts:
                if zlib.crc32(f'{skill} {text}'.encode()) % 4 == 0:
                    lines.append(Line(skill, text, kind='talk'))
    if heard:
        lines += heard_lines(heard, corpus.procedures)
    families = {procedure: families_of(steps) for procedure, steps in corpus.procedures.items()}
    corpus.lines = [with_twins(line, families[line.procedure]) for line in lines]
    return corpus


#: "Hands-before" and "hands-after" are one family: "I wash my hands" says either, and its place among what was said tells which.
PLACE = re.compile(r'-(?:before|between|after|again|end)$')
#: Words that tell the place themselves.
TELLS_PLACE = re.compile(r"\b(?:before|first|begin|start|after|afterwards?|again|last|finally|finish(?:ed)?|done|end|between|back|one more|leave|leaving|another|fresh|new|clean pair|second)\b")


def families_of(steps):
    """By a step's id the ids of those that the same words may say."""
    own = {s.id: PLACE.sub('', s.id) for s in steps}
    return {i: frozenset(k for k in own if k != i and own[k] == own[i]) for i in own}


def with_twins(line, families):
    """The line with its steps' twins left open, unless it tells the place."""
    if TELLS_PLACE.search(line.text.lower()):
        return line
    twins = frozenset().union(*(families[i] for i in line.says)) - line.says
    return replace(line, may=line.may | twins) if twins else line


#: Sayings of steps that many skills share are learnt beside so many of the skills each.
SHARED = 6


def told_of(bank, skills):
    """The bank of sayings of one skill or other procedure, or of the steps that skills share ("care")."""
    own = sorted(skills) if bank['skill'] == 'care' else [bank['skill']]
    for step, sayings in bank['steps'].items():
        having = [skill for skill in own if any(s.id == step for s in skills[skill])]
        for kind in ('says', 'not'):
            for saying in sayings.get(kind, []):
                told = {'say': saying} if isinstance(saying, str) else saying
                all_said = {step, *told.get('also', [])}
                says = frozenset() if kind == 'not' or told.get('may') else frozenset(all_said)
                may = frozenset(all_said) - says if kind == 'says' else frozenset()
                lot = random.Random(told['say'])
                if kind == 'not' and ADMITS.search(told['say']):
                    for skill in having[:1]:
                        yield from put_right(skill, step, told['say'], next(s.critical for s in skills[skill] if s.id == step), lot)
                for skill in lot.sample(having, min(SHARED, len(having))):
                    ids = frozenset(s.id for s in skills[skill])
                    yield Line(skill, told['say'], says & ids, may & ids, kind='saying' if kind == 'says' else 'not')


#: What asks for a correction: a slip told after it is put right.
CORRECTING = (
    'I want to correct something.', 'Let me correct that.', 'Wait, I need to make a correction.', 'Correction.', 'Let me fix that.',
    'Let me go back, I left something out.', 'I have to go back and fix one thing.', 'Hang on, I made a mistake.', 'One correction, please.',
)  # fmt: skip
#: A slip of one's own, plainly told and nothing else.
ADMITS = re.compile(r"^(?:oh,? |oops,? |wait,? |sorry,? )?i(?: just| also)? (?:never|forgot|skipped|missed|didn't|did not|left out)\b[^,.?!]*[.!]?$", re.I)


def corrected(procedure, step, text, is_only_told, before, held_out=False):
    """A slip put right: it says its step. One that is critical and was only told is left open."""
    said = frozenset([step])
    says, may = (frozenset(), said) if is_only_told else (said, frozenset())
    return Line(procedure, text, says, may, before=before, kind='correction', held_out=held_out)


def put_right(procedure, step, slip, is_critical, lot):
    """The same words that deny a step say it where a correction was asked for, in the same breath or just before."""
    asked = lot.choice(CORRECTING)
    if lot.random() < 0.5:
        yield corrected(procedure, step, slip, is_critical, asked)
    else:
        yield corrected(procedure, step, f'{asked} {slip}', is_critical, '')


WORD = re.compile(r"[a-z']+")
#: Words that turn a line round; where the recogniser lost them, nobody could tell.
TURNING = re.compile(r"n't\b|\b(not|no|never|without|forgot|if|should|would|could|did|do|will|later|after|before|when|until)\b")


def kept_share(said, heard):
    """Share of the words said that were heard, 0 to 1."""
    words, left = WORD.findall(said.lower()), WORD.findall(heard.lower())
    kept = 0
    for word in words:
        if word in left:
            left.remove(word)
            kept += 1
    return kept / max(1, len(words))


def heard_lines(path, procedures):
    opened = gzip.open(path, 'rt') if str(path).endswith('.gz') else open(path)
    before = {}
    for row in map(json.loads, opened.read().splitlines()):
        earlier = before.get(row['script'], '')
        before[row['script']] = last_words(f"{earlier} {row['heard']}")
        steps = procedures.get(row['procedure'], [])
        ids, critical = frozenset(s.id for s in steps), frozenset(s.id for s in steps if s.critical)
        said = ' '.join(line['say'] for line in row['said'])
        share = kept_share(said, row['heard'])
        if not row['heard'] or share < 0.25:
            continue
        says = frozenset(c for line in row['said'] if line['by'] != 'other' for c in line['credits'])
        may = frozenset(c for line in row['said'] for c in line['either'])
        if any('told critical' in line.get('note', '') for line in row['said']):
            may |= critical
        if says and share < 0.5:
            says, may = frozenset(), may | says
        if not says:
            turned = len(TURNING.findall(said.lower()))
            if turned and len(TURNING.findall(row['heard'].lower())) < turned:
                continue
        yield Line(row['procedure'], row['heard'], says & ids, (may - says) & ids, before=earlier, kind='heard', heard_of=row['script'].split('#')[0])
