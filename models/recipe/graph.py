"""
What can be said, as the recogniser searches it: a lexicon of phones to words (HCLr.fst) and a language model over words
(Gr.fst), joined while listening. A grammar handed to the recogniser takes the language model's place.
"""

import math
from collections import Counter, defaultdict
from pathlib import Path

import kaldifst

from .kaldi import KALDI_PHONES, PLACES, SILENCE, leave, phone_id, stay
from .lexicon import PHONES
from .sentences import Corpus, words_of

# How many times sentences count in the language model, by origin. Cues are many and telegraphic.
WEIGHTS = {"narrations": 3, "sayings": 2, "cues": 1, "texts": 1, "commands": 2, "numbers": 1, "fillers": 1}
DISCOUNT = 0.6
"""Taken off every count for what was never seen (absolute discounting, Ney et al., 1994)."""
ORDER = 3
DEAREST_END = 6.0
"""The most that ending a sentence anywhere costs: talk is cut by pauses, not by grammar."""

SILENCE_COST, NO_SILENCE_COST = 1.0, 0.3

UNKNOWN_COST, UNKNOWN_PHONE_COST = 3.0, 3.0
"""
What entering "[unk]" costs, and each of its phones: it is a loop over all phones, and must not be cheaper than the
words.
Grammar's sayings heard right, other talk rejected, five of the model's own voices: 4 and 5 100 %, 75 %; 3 and 4 100 %,
85 %;
3 and 3 100 %, 88 %; 2 and 2.5 98 %, 88 %.
"""

History = tuple[str, ...]


class LanguageModel:
    """Costs (negative natural logarithms) of words after histories of up to two words, with back-off."""

    def __init__(self, sentences: list[tuple[str, int]], vocabulary: list[str]) -> None:
        """:param sentences: (text, how often it counts)"""
        counts: dict[History, Counter[str]] = defaultdict(Counter)
        for text, times in sentences:
            words = ["<s>", *words_of(text), "</s>"]
            for at in range(1, len(words)):
                for length in range(min(ORDER, at + 1)):
                    counts[tuple(words[at - length : at])][words[at]] += times
        words = [*vocabulary, "</s>"]
        uni = counts.pop(())
        total = sum(uni.values()) + 0.5 * len(words)
        self.probability: dict[History, dict[str, float]] = {(): {w: (uni[w] + 0.5) / total for w in words}}
        self.left: dict[History, float] = {}
        """What remains for words not seen after a history."""
        for history in sorted(counts, key=len):
            seen = counts[history]
            # A history of two words that came once tells nothing.
            if len(history) > 1 and (sum(seen.values()) < 3 or history[1:] not in self.left):
                continue
            n = sum(seen.values())
            self.left[history] = DISCOUNT * len(seen) / n
            self.probability[history] = {
                w: (k - DISCOUNT) / n + self.left[history] * self.of(w, history[1:]) for w, k in seen.items()
            }

    def of(self, word: str, history: History) -> float:
        """The word's probability after the history."""
        if history and history not in self.left:
            return self.of(word, history[1:])
        known = self.probability[history]
        return known[word] if word in known else self.left[history] * self.of(word, history[1:])

    def perplexity(self, texts: list[str]) -> float:
        """Of the texts' words and ends."""
        cost = n = 0.0
        for text in texts:
            words = ["<s>", *words_of(text), "</s>"]
            for at in range(1, len(words)):
                cost -= math.log(self.of(words[at], tuple(words[max(0, at - ORDER + 1) : at])))
                n += 1
        return math.exp(cost / n)


class _Graph:
    def __init__(self) -> None:
        self.fst = kaldifst.StdVectorFst()

    def state(self) -> int:
        return self.fst.add_state()

    def arc(self, source: int, heard: int, word: int, cost: float, target: int) -> None:
        self.fst.add_arc(source, kaldifst.StdArc(heard, word, cost, target))

    def phone(self, source: int, phone: int, word: int = 0, cost: float = 0.0) -> int:
        """A new state in which the phone has been heard. Leaving comes first, then staying: word times rely on it."""
        target = self.state()
        self.arc(source, leave(phone), word, cost, target)
        self.arc(target, stay(phone), 0, 0.0, target)
        return target


def _placed(pronunciation: list[str]) -> list[int]:
    last = len(pronunciation) - 1
    return [
        phone_id(p, "S" if last == 0 else "B" if i == 0 else "E" if i == last else "I")
        for i, p in enumerate(pronunciation)
    ]  # fmt: skip


def _lexicon_graph(lexicon: dict[str, list[list[str]]], numbers: dict[str, int]) -> kaldifst.StdVectorFst:
    """
    All words in a loop, silence between them where wanted. A word's label stands on its first phone, so that plain
    composition with the language model prunes early.
    """
    graph = _Graph()
    start, loop, end = graph.state(), graph.state(), graph.state()
    graph.fst.start = start
    for state in (start, end):
        graph.arc(graph.phone(state, SILENCE, 0, SILENCE_COST), 0, 0, 0.0, loop)
        graph.arc(state, 0, 0, NO_SILENCE_COST, loop)
    graph.fst.set_final(loop, 0.0)
    for word, pronunciations in lexicon.items():
        for pronunciation in pronunciations:
            state = loop
            for i, phone in enumerate(_placed(pronunciation)):
                state = graph.phone(state, phone, numbers[word] if i == 0 else 0)
            graph.arc(state, 0, 0, 0.0, end)
    entry, inside, tail = graph.state(), graph.state(), graph.state()
    graph.arc(loop, 0, numbers["[unk]"], UNKNOWN_COST, entry)
    graph.arc(tail, 0, 0, 0.0, end)
    for phone in PHONES:
        for source, place, target in ((entry, "B", inside), (inside, "I", inside), (inside, "E", tail)):
            state = graph.phone(source, phone_id(phone, place), 0, UNKNOWN_PHONE_COST)
            graph.arc(state, 0, 0, 0.0, target)
    kaldifst.arcsort(graph.fst, sort_type="olabel")
    return graph.fst


def _language_graph(model: LanguageModel, numbers: dict[str, int]) -> kaldifst.StdVectorFst:
    """A state for each history that words are counted after; an arc without a word leads to the shorter history."""
    graph = _Graph()
    states = {(): graph.state()}
    # Every word is a history, so that what follows it backs off from there; longer ones only where counted.
    for word in numbers:
        if word not in ("<eps>", "[unk]", "#0", "</s>"):
            states[(word,)] = graph.state()
    for history in model.left:
        states.setdefault(history, graph.state()) if len(history) > 1 else None
    graph.fst.start = states[("<s>",)]
    for history, state in states.items():
        for word, probability in model.probability.get(history, {}).items():
            if word == "</s>":
                continue
            longest = (*history, word)[-(ORDER - 1) :]
            target = states.get(longest, states.get(longest[-1:]))
            graph.arc(state, numbers[word], numbers[word], -math.log(probability), target)
        if history:
            graph.arc(state, 0, 0, -math.log(model.left.get(history, 1.0)), states[history[1:]])
            graph.fst.set_final(state, min(DEAREST_END, -math.log(model.of("</s>", history))))
    kaldifst.arcsort(graph.fst, sort_type="ilabel")
    return graph.fst


def write_graph(corpus: Corpus, lexicon: dict[str, list[list[str]]], folder: Path) -> LanguageModel:
    """Writes HCLr.fst, Gr.fst and the tables that name words and phones into `folder`, and gives the language model."""
    words = ["<eps>", *lexicon, "[unk]", "#0", "<s>", "</s>"]
    numbers = {word: i for i, word in enumerate(words)}
    sentences = [(s, WEIGHTS[origin]) for origin, lines in corpus.by_origin.items() for s in lines]
    model = LanguageModel(sentences, list(lexicon))
    phones = folder / "phones"
    phones.mkdir(parents=True, exist_ok=True)
    _lexicon_graph(lexicon, numbers).write(str(folder / "HCLr.fst"))
    _language_graph(model, numbers).write(str(folder / "Gr.fst"))
    (folder / "words.txt").write_text("".join(f"{w} {i}\n" for w, i in numbers.items()), encoding="utf-8")
    names = "".join(f"{p} {i}\n" for i, p in enumerate(["<eps>", *KALDI_PHONES]))
    (folder / "phones.txt").write_text(names, encoding="utf-8")
    kinds = dict(zip(PLACES, ["begin", "end", "internal", "singleton"], strict=True))
    bounds = [f"{i} {'nonword' if i == SILENCE else kinds[p[-1]]}\n" for i, p in enumerate(KALDI_PHONES, 1)]
    (phones / "word_boundary.int").write_text("".join(bounds), encoding="utf-8")
    # No symbol needs disambiguation here; the file must be there, and name none that occurs.
    (folder / "disambig_tid.int").write_text("1000000\n", encoding="utf-8")
    return model
