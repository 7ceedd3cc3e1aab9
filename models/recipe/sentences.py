"""What the model is taught to hear: the project's own texts as plain words, and everyday filler written here."""

import itertools
import random
import re
from pathlib import Path

import yaml

PROJECT = Path(__file__).resolve().parents[2]

ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen"
).split()
TENS = "_ _ twenty thirty forty fifty sixty seventy eighty ninety".split()
UNITS = {
    "kg": "kilograms", "ml": "milliliters", "mls": "milliliters", "mmhg": "millimeters of mercury",
}  # fmt: skip

# Words that no text of the project holds but that any talk does.
SMALL_WORDS = (
    "a about after again all almost also always am an and another any are around as ask at away back be because been "
    "before being below better between big both but by call came can come could day did do does done down each else "
    "enough even every everything few find fine first for from get give go going gone good got great had half happy "
    "has have he hello help her here herself him himself his home how i if in inside into is it its just keep kind "
    "know last later least less let like listen little long look lot made make many may maybe me mean mind minute "
    "miss more morning most mother move much must my myself name near need never new next nice night no nobody none "
    "not nothing now of off often oh okay old on once one only open or other our out over own part people perhaps "
    "place please point quite rather ready really right room said same saw say second see seem seen set she should "
    "show side since sit sleep slow small so some someone something soon sorry start stay still stop such sure take "
    "talk tell than thank thanks that the their them then there these they thing things think this those though "
    "thought three through time to today together tomorrow tonight too took toward try turn two under until up us use "
    "very wait walk want warm was watch water way we week well went were what when where which while who why will "
    "with within without woman word work would wrong year yes yesterday yet you young your yourself um uh er hmm ah"
).split()


def number_words(n: int) -> str:
    """The whole number 0 to 9999 in words, without "and": 118 is "one hundred eighteen"."""
    if n < 20:
        return ONES[n]
    if n < 100:
        return TENS[n // 10] + (f" {ONES[n % 10]}" if n % 10 else "")
    if n < 1000:
        return f"{ONES[n // 100]} hundred" + (f" {number_words(n % 100)}" if n % 100 else "")
    return f"{number_words(n // 1000)} thousand" + (f" {number_words(n % 1000)}" if n % 1000 else "")


def _digits_in_words(match: re.Match[str]) -> str:
    whole, _, fraction = match.group().replace(",", "").partition(".")
    if len(whole) > 4:
        return " ".join(ONES[int(d)] for d in whole)
    words = number_words(int(whole))
    return f" {words} point {' '.join(ONES[int(d)] for d in fraction)} " if fraction else f" {words} "


def spoken(text: str) -> str:
    """The text as it is given to a synthesiser: lower case, numbers in words, only the marks , . ? left."""
    text = text.lower().replace("’", "'").replace("‘", "'")
    text = re.sub(r"\b(mrs|mr|ms|dr|st|no)\.", r"\1", text)
    text = re.sub(r"\b(kg|mls?|mmhg)\b", lambda m: UNITS[m.group()], text)
    text = re.sub(r"(\d+)\s*/\s*(\d+)", r"\1 over \2", text).replace("&", " and ").replace("%", " percent ")
    text = re.sub(r"(\d)(st|nd|rd|th)\b", r"\1", text)
    text = re.sub(r"\d+(?:,\d{3})*(?:\.\d+)?", _digits_in_words, text)
    text = re.sub(r"[!.]+", ".", text)
    text = re.sub(r"[;:—–…()]|\s-\s|--", ",", text)
    text = re.sub(r"[^a-z',.? ]+", " ", text)
    text = re.sub(r"(?<![a-z])'|'(?![a-z])", " ", text)
    text = re.sub(r"\s+([,.?])", r"\1", text)
    text = re.sub(r"([,.?])[,.?]+", r"\1", text)
    return " ".join(text.split()).strip(" ,")


def words_of(text: str) -> list[str]:
    """The words of a text as the recogniser writes them: lower case, no marks, numbers in words."""
    return re.sub(r"[,.?]", " ", spoken(text)).split()


def _read(path: Path) -> object:
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def lexicon_slots() -> dict[str, list[str]]:
    """The wordings of each slot of the skills' lexicon."""
    slots = _read(PROJECT / "skills/lexicon.yaml")["slots"]
    return {name: [str(w) for w in wordings] for name, wordings in slots.items()}


def skill_texts() -> tuple[list[str], list[str]]:
    """(cues, other texts) of all skills and of the shared steps, as written."""
    cues: list[str] = []
    texts: list[str] = []

    def walk(value: object, key: str = "") -> None:
        if isinstance(value, dict):
            for k, v in value.items():
                # Under these keys stand lists of cues, whatever the step.
                walk(v, "cue" if k in ("cues", "start", "stop", "parts", "during", "pausedBy", "value", "again") else k)
        elif isinstance(value, list):
            for v in value:
                walk(v, key)
        elif isinstance(value, str):
            if key == "cue" or "{" in value:
                cues.append(value)
            elif key in ("text", "title", "card", "question", "note", "unit") or " " in value:
                texts.append(value)

    for path in sorted((PROJECT / "skills").glob("*.yaml")):
        if path.name != "lexicon.yaml":
            walk(_read(path))
    return cues, texts


def narrations(split: str) -> dict[str, list[str]]:
    """Lines of the narrations in tests/speech/narrations of that split ("dev" or "held-out"), by narration."""
    found = {}
    for path in sorted((PROJECT / "tests/speech/narrations").glob("*.yaml")):
        narration = _read(path)
        if narration["split"] == split:
            found[path.stem] = [str(line["say"]) for line in narration["lines"]]
    return found


def skill_narrations() -> list[str]:
    """Lines of the narrations that lie beside the skills, of the demo, and of the talk that credits nothing."""
    lines: list[str] = []
    for path in sorted((PROJECT / "skills/narrations").glob("*.yaml")):
        lines += [str(line) if not isinstance(line, dict) else str(line["say"]) for line in _read(path)["says"]]
    for folder in ("skills/demo", "tests/speech/negatives"):
        for path in sorted((PROJECT / folder).glob("*.yaml")):
            lines += [str(line["say"]) for line in _read(path)["lines"]]
    return lines


def sayings() -> list[str]:
    """Every saying of tests/rehearsal/sayings/sayings.yaml, those that credit and those that do not."""
    found: list[str] = []

    def walk(value: object) -> None:
        if isinstance(value, dict):
            for v in value.values():
                walk(v)
        elif isinstance(value, list):
            for v in value:
                walk(v)
        elif isinstance(value, str):
            found.append(value)

    walk(_read(PROJECT / "tests/rehearsal/sayings/sayings.yaml"))
    return found


def commands(rng: random.Random, each: int = 6) -> list[str]:
    """Spoken commands: the sayings of app/language/commands.ts, choices made, some after the coach's name."""
    source = (PROJECT / "app/language/commands.ts").read_text(encoding="utf-8")
    start = source.index("const SAYINGS")
    patterns = re.findall(r"'([^'\n]+)'|\"([^\"\n]+)\"", source[start : source.index("const SMALL")])
    found: list[str] = []
    for pattern in sorted({a or b for a, b in patterns}):
        for _ in range(each):
            words = []
            for part in pattern.split():
                if part.startswith("(") and rng.random() < 0.5:
                    continue
                words.append(rng.choice(part.strip("()").split("|")))
            text = " ".join(words)
            found += [text, f"coach {text}", f"{text} please"]
    # Whole questions as people put them; the patterns above leave the small words out.
    found += [
        "read the card again", "read the card please", "coach, read the card", "repeat the card", "show me the card",
        "how much time is left", "how much time do i have left", "how long have i scrubbed", "coach, how much time",
        "how long have i been scrubbing", "pause, please", "pause the rehearsal", "coach, pause", "go on",
        "coach, go on",
        "go on please", "i want to correct something", "i want to correct a step", "next skill", "next skill, please",
        "go on to the next skill", "stop the rehearsal", "coach, stop", "i am ready", "i am ready to start",
        "let's begin", "start the rehearsal", "i am finished", "i'm done", "end the test", "carry on",
        "i made a mistake",
    ]  # fmt: skip
    return sorted(set(found))


def expand(cue: str, slots: dict[str, list[str]], rng: random.Random) -> str:
    """One saying that the cue stands for, its slots filled by chance."""
    text = re.sub(r"\{([^{}]+)\}", lambda m: rng.choice(slots[m.group(1).strip()]), cue)
    return text.replace("!", " ").replace(".", " ").replace("|", " ")


def numbers(rng: random.Random) -> list[str]:
    """Numbers 0 to 300 alone, counted, as pressures, and in the sentences in which readings are told."""
    said = [number_words(n) for n in range(301)]
    said += [number_words(n).replace("hundred ", "hundred and ") for n in range(101, 301)]
    said += [f"{number_words(n)} over {number_words(m)}" for n, m in
             ((rng.randrange(80, 201), rng.randrange(40, 121)) for _ in range(200))]  # fmt: skip
    said += [" ".join(number_words(i) for i in range(a, a + k)) for a in range(0, 60, 2) for k in (3, 5, 8)]
    forms = [
        "the pulse is {}", "i count {} breaths", "{} respirations per minute", "the respirations are {}", "i got {}",
        "the reading is {} milliliters", "{} milliliters", "the weight is {} pounds", "{} kilograms", "i counted {}",
        "that is {} seconds", "{} times", "the top number is {}", "the bottom number is {}", "i write down {}",
        "i record {}", "it is {} beats per minute", "{} point five", "the scale shows {}", "she has {} breaths",
        "blood pressure is {} over eighty", "one hundred twenty over {}", "{} and regular", "about {} i think",
    ]  # fmt: skip
    said += [rng.choice(forms).format(number_words(rng.randrange(0, 301))) for _ in range(700)]
    return said


FILLERS = {
    "start": ["", "", "", "okay so", "now", "um", "so", "all right", "well", "and", "first", "then", "next", "uh",
    "right",
              "okay", "here we go", "let me see", "as i said", "yes", "no", "oh", "please", "and now", "so now"],
    "who": ["i", "i", "i", "we", "you", "she", "he", "they", "the resident", "the nurse", "my teacher", "somebody"],
    "will": ["will", "can", "would", "could", "should", "must", "might", "did", "do not", "never", "cannot", "always"],
    "act": ["look at", "think about", "talk about", "wait for", "ask for", "bring", "take", "move", "hold", "check",
    "find",
            "clean", "use", "need", "want", "see", "open", "close", "put down", "pick up", "remember", "forget",
            "help with"],
    "what": ["it", "that", "this", "the chair", "the door", "a towel", "the bed", "my hands", "your arm", "the water",
             "the other one", "everything", "something else", "the window", "her glasses", "his shoes", "the table",
             "a clean one", "the list", "your breakfast", "the light", "the phone", "some more", "both of them"],
    "end": ["", "", "", "now", "today", "again", "please", "first", "too", "for a moment", "before we go on", "okay",
            "if you like", "for you", "with me", "slowly", "this morning", "after lunch", "in a minute", "right here"],
    "ask": ["are you comfortable", "is that all right", "does it hurt", "are you ready", "can you hear me",
    "do you need anything",
            "how are you today", "did you sleep well", "would you like some water", "is the water warm enough",
            "are you cold",
            "what time is it", "where did i put it", "what comes next", "shall we go on", "is it okay if i start"],
    "tell": ["i do not know", "i am not sure", "that is fine", "thank you very much", "you are welcome", "let me think",
             "it is a nice day", "i am almost done", "we are nearly there", "take your time", "there you go",
             "that is better",
             "i will be right back", "i am sorry about that", "good job", "just a moment please",
             "i have to start over",
             "the bus was late again", "it was raining all night", "my sister called yesterday",
             "we had soup for lunch",
             "the game went on too long", "they painted the kitchen green", "the dog ran through the garden",
             "he reads the paper every morning", "she likes her coffee black", "the children are at school"],
}  # fmt: skip


def fillers(rng: random.Random, count: int = 1500) -> list[str]:
    """Everyday sentences around the work, from a small grammar."""
    pick = lambda kind: rng.choice(FILLERS[kind])  # noqa: E731
    said = list(itertools.chain(FILLERS["ask"], FILLERS["tell"]))
    for _ in range(count):
        form = rng.random()
        if form < 0.6:
            said.append(f"{pick('start')} {pick('who')} {pick('will')} {pick('act')} {pick('what')} {pick('end')}")
        elif form < 0.75:
            said.append(f"{pick('start')} {pick('ask')}")
        else:
            said.append(f"{pick('start')} {pick('tell')} {pick('end')}")
    return said


class Corpus:
    """The sentences by origin, and the vocabulary. Held-out narrations give words, never sentences."""

    def __init__(self, seed: int) -> None:
        """:param seed: of the choices made in cues, commands, numbers and fillers"""
        rng = random.Random(seed)
        slots = lexicon_slots()
        cues, texts = skill_texts()
        held_out = [line for lines in narrations("held-out").values() for line in lines]
        kept_out = {" ".join(words_of(line)) for line in held_out}
        expansions = [expand(cue, slots, rng) for cue in cues for _ in range(4)]
        self.held_out = held_out
        origins = {
            "narrations": [line for lines in narrations("dev").values() for line in lines] + skill_narrations(),
            "sayings": sayings(),
            "cues": expansions,
            "texts": [s for text in texts for s in re.split(r"(?<=[.?!])\s+", text)],
            "commands": commands(rng),
            "numbers": numbers(rng),
            "fillers": fillers(rng),
        }
        self.by_origin: dict[str, list[str]] = {}
        for origin, lines in origins.items():
            clean = [spoken(line) for line in lines]
            self.by_origin[origin] = [s for s in clean if s and " ".join(words_of(s)) not in kept_out]
        wordings = [w for group in slots.values() for w in group]
        every = itertools.chain(*self.by_origin.values(), map(spoken, held_out), map(spoken, wordings), SMALL_WORDS)
        self.vocabulary = sorted({word for text in every for word in words_of(text)})
