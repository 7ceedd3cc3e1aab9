"""How each word of the vocabulary is pronounced, in the phones of the CMU dictionary without stress."""

import re
import subprocess
from functools import cache
from pathlib import Path

PHONES = (
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
).split()

CMUDICT = Path("/usr/share/pocketsphinx/model/en-us/cmudict-en-us.dict")
"""The dictionary of Debian's package pocketsphinx-en-us."""

MOST_PRONUNCIATIONS = 3
"""More of them make common words ("and") fit nearly everything."""

# Where the dictionary's first reading is not what a trainee says, or it has only a name's.
OWN = {
    "id": ["AY D IY"], "dr": ["D AA K T ER"], "st": ["S EY N T"], "um": ["AH M"], "uh": ["AH"], "i'm": ["AY M"],
    "hmm": ["HH M"],
    "er": ["ER"], "hiya": ["HH AY AH"], "perineal": ["P EH R AH N IY AH L"], "peri": ["P EH R IY"],
    "siderail": ["S AY D R EY L"], "dorsiflex": ["D AO R S AH F L EH K S"],
    "dorsiflexion": ["D AO R S AH F L EH K SH AH N"],
    "hoodie": ["HH UH D IY"], "lacing": ["L EY S IH NG"], "orangewood": ["AO R IH N JH W UH D"],
    "duvet's": ["D UW V EY Z"],
    "underhay": ["AH N D ER HH EY"], "marisol": ["M AA R IH S OW L"], "stourbridge": ["S T AW ER B R IH JH"],
}  # fmt: skip

# What espeak-ng writes for General American, as our phones. The longest spelling that fits is taken.
IPA = {
    "tʃ": "CH", "dʒ": "JH", "aɪə": "AY ER", "aɪ": "AY", "aʊ": "AW", "eɪ": "EY", "oʊ": "OW", "ɔɪ": "OY", "ɑːɹ": "AA R",
    "ɔːɹ": "AO R", "oːɹ": "AO R", "ɛɹ": "EH R", "ɪɹ": "IH R", "ʊɹ": "UH R", "iə": "IY AH", "əl": "AH L", "ɑː": "AA",
    "ɑ": "AA",
    "ɔː": "AO", "ɔ": "AO", "ɒ": "AA", "uː": "UW", "u": "UW", "iː": "IY", "i": "IY", "ɜː": "ER", "ɚ": "ER", "ɝ": "ER",
    "ɐ": "AH",
    "ə": "AH", "ʌ": "AH", "ᵻ": "IH", "ɪ": "IH", "ɛ": "EH", "æ": "AE", "ʊ": "UH", "a": "AE", "o": "OW", "e": "EY",
    "b": "B", "d": "D",
    "ð": "DH", "f": "F", "ɡ": "G", "h": "HH", "k": "K", "l": "L", "m": "M", "n": "N", "ŋ": "NG", "p": "P", "ɹ": "R",
    "r": "R",
    "s": "S", "ʃ": "SH", "t": "T", "ɾ": "T", "θ": "TH", "v": "V", "w": "W", "j": "Y", "z": "Z", "ʒ": "ZH",
    "n̩": "AH N", "x": "K",
    "ʔ": "T",
}  # fmt: skip

VOICELESS = {"P", "T", "K", "F", "TH"}
SIBILANT = {"S", "Z", "SH", "ZH", "CH", "JH"}


@cache
def dictionary() -> dict[str, list[list[str]]]:
    """
    The CMU dictionary: word to pronunciations.

    :raises FileNotFoundError: Debian's package pocketsphinx-en-us is not installed
    """
    if not CMUDICT.exists():
        raise FileNotFoundError(f"{CMUDICT} is missing: install Debian's package pocketsphinx-en-us")
    words: dict[str, list[list[str]]] = {}
    for line in CMUDICT.read_text(encoding="utf-8").splitlines():
        word, *phones = line.split()
        words.setdefault(re.sub(r"\(\d+\)$", "", word), []).append(phones)
    return words


def _plural(phones: list[str]) -> list[str]:
    last = phones[-1]
    return phones + (["IH", "Z"] if last in SIBILANT else ["S"] if last in VOICELESS else ["Z"])


def _past(phones: list[str]) -> list[str]:
    last = phones[-1]
    voiceless = last in VOICELESS | {"S", "SH", "CH"}
    return phones + (["IH", "D"] if last in ("T", "D") else ["T"] if voiceless else ["D"])


def _inflected(word: str) -> list[list[str]]:
    """By the base's pronunciation: possessives and plurals, -ed, -ing, un-, British -ise; [] where none fits."""
    known = dictionary()
    endings = [
        ("'s", _plural), ("es", _plural), ("s", _plural), ("ed", _past), ("d", _past),
        ("ing", lambda p: [*p, "IH", "NG"]), ("less", lambda p: [*p, "L", "AH", "S"]), ("y", lambda p: [*p, "IY"]),
    ]  # fmt: skip
    for ending, add in endings:
        if word.endswith(ending):
            base = word[: -len(ending)]
            for spelling in (base, base + "e", base[:-1] if base[-2:-1] == base[-1:] else base):
                if len(spelling) > 2 and spelling in known:
                    return [add(p) for p in known[spelling]]
    if word.startswith("un") and word[2:] in known:
        return [["AH", "N", *p] for p in known[word[2:]]]
    american = re.sub(r"is(e|ed|es|er|ing)$", r"iz\1", word)
    return known.get(american, []) if american != word else []


def _compound(word: str) -> list[list[str]]:
    """Two words of the dictionary written as one ("bedrail"), the later cut first; [] where there are none."""
    known = dictionary()
    for cut in range(len(word) - 3, 2, -1):
        if word[:cut] in known and word[cut:] in known:
            return [known[word[:cut]][0] + known[word[cut:]][0]]
    return []


def _by_rule(word: str) -> list[list[str]]:
    """By the letter-to-sound rules of espeak-ng. Raises ValueError for a sound that the table above lacks."""
    ipa = subprocess.run(
        ["espeak-ng", "-q", "--ipa", "-v", "en-us", word], capture_output=True, text=True, check=True
    ).stdout.strip()
    rest = re.sub(r"[ˈˌ\s‍]", "", ipa)
    phones: list[str] = []
    while rest:
        sound = next((rest[:k] for k in (3, 2, 1) if rest[:k] in IPA), None)
        if sound is None:
            raise ValueError(f'"{word}": espeak-ng says "{ipa}", and "{rest[0]}" is not in the table IPA of lexicon.py')
        phones += IPA[sound].split()
        rest = rest[len(sound) :]
    return [phones]


def pronounce(word: str) -> list[list[str]]:
    """The word's pronunciations: our own, the dictionary's, an inflection's, a compound's, or espeak-ng's rules'."""
    if word in OWN:
        return [p.split() for p in OWN[word]]
    for way in (lambda w: dictionary().get(w, []), _inflected, _compound, _by_rule):
        found = way(word)
        if found:
            return found[:MOST_PRONUNCIATIONS]
    raise AssertionError("espeak-ng always says something")


def lexicon(vocabulary: list[str]) -> dict[str, list[list[str]]]:
    """Word to pronunciations, for the whole vocabulary, in its order."""
    return {word: pronounce(word) for word in vocabulary}
