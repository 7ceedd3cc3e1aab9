"""The plainest ways to say a step, made from its text: "Rinse the soap off" is said by "Now I rinse the soap off." and not by "I forgot
to rinse the soap off." Sayings written by people are mostly unlike the text on purpose; without these the judge comes to distrust it.
"""
import random
import re

#: How many of each a step gives; more teach nothing new.
SAID, NOT_SAID, PUT_RIGHT = 5, 3, 2

SAYINGS = (
    'I {do}.', 'Now I {do}.', 'So I {do}.', 'And then I {do}, okay.', 'I go ahead and {do}.', 'Let me {do}.', 'Next I {do}.', 'I will {do} now.',
    "I'm going to {do}.", "I'm gonna {do}.", "Now I'll {do}.", 'Here I would {do}.', "I'm {doing}.", "Now I'm {doing}.", "Okay, {doing}.", '{Doing}.',
)  # fmt: skip
#: A slip put right as it is told.
MENDED = (
    "I forgot to {do}, I'm {doing} now.", "I missed that, I'm {doing} now.", "I skipped one, so now I {do}.", 'Correction, I {do}.', 'Let me fix that: I {do}.',
    "Oh, I didn't {do}, I'm {doing} now.", 'Let me correct that, now I {do}.', 'I left something out. I go back and {do}.',
)  # fmt: skip
REFUSALS = ('I do not {do}.', "I don't {do}.", "I won't {do}.", "I'm not going to {do}.", 'Here I would not {do}.')
#: Some say that it is not done, some that it is not done now, by me, or in truth.
UNSAID = (
    'I did not {do}.', 'I forgot to {do}.', "I don't {do} this time.", 'I skip it and do not {do}.', "I haven't done it, I couldn't {do}.", 'Should I {do}?',
    'Do I have to {do}?', "I'll {do} later.", 'When everything is finished I will {do}.', 'In a few minutes I will {do}.', 'You should always {do}.',
    'They want you to {do}.', 'The nurse will {do}.', 'My partner will {do}.', 'Yesterday I had to {do}.', "If I had time I'd {do}.", 'Normally one would {do}.',
)  # fmt: skip

FORBIDS = re.compile(r'^(?:do not|never) ', re.I)
#: "From front to back", which "from back to front" must never say.
WAY = re.compile(r'\bfrom ((?:the |my |your )?[a-z]+) (to|towards?) ((?:the |my |your )?[a-z]+)')
PERSON = re.compile(r"\bthe (?:resident|person)\b(?!')")


def said_plainly(text):
    """Some of a step's plain sayings, the same at each call: `(says, does it)`."""
    lot = random.Random(text)
    refused = FORBIDS.search(text)
    do = FORBIDS.sub('', text[0].lower() + text[1:]).rstrip('.')
    ways = [(saying, True) for saying in lot.sample(REFUSALS if refused else SAYINGS, SAID)]
    turned = WAY.sub(r'from \3 \2 \1', do)
    if turned != do:
        ways += [(saying.replace('{do}', '{turned}'), False) for saying in lot.sample(SAYINGS[:11], SAID)]
    if not refused:
        ways += [(saying, True) for saying in lot.sample(MENDED, PUT_RIGHT)]
        ways += [(saying, False) for saying in lot.sample(UNSAID, NOT_SAID)]
    for saying, does in ways:
        who = lot.choice(('the resident', 'you', 'her', 'him', 'the patient', 'my resident'))
        own = re.sub(r'\b[Yy]our(self)?\b', lambda found: 'myself' if found[1] else 'my', do)
        own = PERSON.sub(who, own)
        other = WAY.sub(r'from \3 \2 \1', own)
        verb, *rest = own.split(' ')
        doing = ' '.join([gerund(verb), *rest])
        yield saying.format(do=own, turned=other, doing=doing, Doing=doing[0].upper() + doing[1:]), does


def gerund(verb):
    if re.search(r'[^aeo]e$', verb) and verb != 'be':
        return f'{verb[:-1]}ing'
    if re.fullmatch(r'[^aeiou]*[aeiou][^aeiouwxy]', verb):
        return f'{verb}{verb[-1]}ing'
    return f'{verb}ing'
