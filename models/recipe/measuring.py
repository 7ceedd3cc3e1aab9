"""What the packed model hears, measured with the real decoder (vosk) on lines of held-out narrations."""

import hashlib
import json
import subprocess
import time
from collections import Counter
from pathlib import Path

import numpy as np
import vosk

from .lexicon import lexicon
from .sentences import PROJECT, Corpus, words_of
from .training import edits
from .voices import (
    KOKORO_VOICES,
    RATE,
    Saying,
    _samples,
    as_spelled,
    speak,
    trimmed,
)

# Voices never learnt from. The speakers of festival's two are also flite's "kal16" and "slt", spoken by other programs.
UNHEARD_VOICES = ("joe", "flite-awb", "festival-kal_diphone", "festival-cmu_us_slt_arctic_hts")
OWN_VOICES = (
    "flite-kal16", "flite-rms", "flite-slt", "espeak-en-us", "espeak-en-us+f3", "espeak-en-gb+m5", "rhvoice-bdl",
    "rhvoice-clb",
    "pico-en-US", "pico-en-GB", f"kokoro-{KOKORO_VOICES[4]}*{KOKORO_VOICES[0]}*0.70",
)  # fmt: skip
PAUSE = np.zeros(RATE * 3 // 10, np.int16)

GRAMMARS = {
    "phrases": ["i lock the wheels", "i lower the bed", "call light", "privacy curtain", "gait belt",
    "wash my hands", "[unk]"],
    "numbers": [
        "one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
        "eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred",
        "[unk]",
    ],
}  # fmt: skip
IN_GRAMMAR = {
    "phrases": ["i lock the wheels", "i lower the bed", "call light", "privacy curtain", "gait belt", "wash my hands"],
    "numbers": ["eighty two", "fourteen", "one hundred eighteen", "twenty four", "ninety six", "one hundred thirty"],
}
OUT_OF_GRAMMAR = [
    "did you see the game last night", "my sister called yesterday about the wedding",
    "we had soup and bread for lunch",
    "she likes her coffee black", "they painted the kitchen green", "the dog ran through the garden",
    "how was the weather this morning", "he reads the paper every morning before work",
]  # fmt: skip


def spoken_by(voice: str, texts: list[str], cache: Path) -> list[np.ndarray]:
    """The texts in that voice, int16 at RATE, quiet ends cut, root mean square 2000; kept in `cache` between runs."""
    cache.mkdir(parents=True, exist_ok=True)
    files = [cache / f"{hashlib.sha256(f'{voice}|{text}'.encode()).hexdigest()[:24]}.wav" for text in texts]
    missing = [(text, file) for text, file in zip(texts, files, strict=True) if not file.exists()]
    if voice == "joe" and missing:
        lines = "".join(json.dumps({"text": as_spelled(text), "file": str(file)}) + "\n" for text, file in missing)
        python, script = PROJECT / ".cache/venv/bin/python", PROJECT / "tests/speech/speak_joe.py"
        subprocess.run([str(python), str(script)], input=lines, text=True, check=True)
    engine, _, name = voice.partition("-")
    found = []
    for text, file in zip(texts, files, strict=True):
        if voice == "flite-awb" and not file.exists():
            subprocess.run(["flite", "-voice", "awb", "-t", as_spelled(text), "-o", str(file)], check=True)
        elif engine == "festival" and not file.exists():
            command = ["text2wave", "-eval", f"(voice_{name})", "-o", str(file)]
            subprocess.run(command, input=as_spelled(text), text=True, check=True, stderr=subprocess.DEVNULL)
        if voice in UNHEARD_VOICES:
            samples = trimmed(_samples(file.read_bytes()))
            samples = samples * (2000 / (np.sqrt(np.mean(samples**2)) + 1e-9))
            found.append(np.clip(samples, -32768, 32767).astype(np.int16))
        else:
            raw = file.with_suffix(".npy")
            if not raw.exists():
                np.save(raw, speak(Saying(text, engine, name, 1.0, 1.0)))
            found.append(np.load(raw))
    return found


def hear(model: vosk.Model, samples: np.ndarray, grammar: list[str] | None = None) -> list[dict]:
    """The words heard, each with start and end in seconds."""
    recogniser = vosk.KaldiRecognizer(model, RATE, *([json.dumps(grammar)] if grammar else []))
    recogniser.SetWords(True)
    sound, words = samples.astype("<i2").tobytes(), []
    for at in range(0, len(sound), 8000):
        if recogniser.AcceptWaveform(sound[at : at + 8000]):
            words += json.loads(recogniser.Result()).get("result", [])
    return words + json.loads(recogniser.FinalResult()).get("result", [])


def _text(words: list[dict]) -> list[str]:
    return [w["word"] for w in words]


def word_errors(model: vosk.Model, texts: list[str], spoken: list[np.ndarray]) -> tuple[float, float]:
    """(share of words wrong, seconds of work for a second of sound)."""
    wrong = of = 0
    seconds, begun = 0.0, time.process_time()
    for text, samples in zip(texts, spoken, strict=True):
        sound = np.concatenate([PAUSE, samples, PAUSE])
        heard = [w for w in _text(hear(model, sound)) if w != "[unk]"]
        wrong += edits(words_of(text), heard)
        of += len(words_of(text))
        seconds += len(sound) / RATE
    return wrong / of, (time.process_time() - begun) / seconds


def in_noise(spoken: list[np.ndarray], noise: np.ndarray, decibels: float) -> list[np.ndarray]:
    """Each under a piece of the noise, the speech's root mean square so many decibels above the noise's."""
    found, at = [], 0
    for samples in spoken:
        length = len(samples) + 2 * len(PAUSE)
        at = (at + length) % (len(noise) - length)
        piece = noise[at : at + length].astype(np.float64)
        piece *= 2000 * 10 ** (-decibels / 20) / np.sqrt(np.mean(piece**2))
        piece[len(PAUSE) : len(PAUSE) + len(samples)] += samples
        found.append(np.clip(piece, -32768, 32767).astype(np.int16))
    return found


def tap(seconds: int, folder: Path) -> np.ndarray:
    """Running water as the project's benchmark makes it (tests/speech/noise.ts), float samples of any level."""
    file = folder / f"tap-{seconds}.f32"
    if not file.exists():
        script = PROJECT / "models/recipe/tap.ts"
        subprocess.run(["npx", "tsx", str(script), str(seconds * RATE), str(file)], cwd=PROJECT, check=True)
    return np.fromfile(file, "<f4")


def _flite_times(
    voice: str, text: str, file: Path, pronounced: dict
) -> tuple[np.ndarray, list[tuple[str, float, float]]]:
    """The line by flite, and where each word is by its segments; [] where these do not fit the phones one to one."""
    command = ["flite", "-voice", voice, "-psdur", "-t", as_spelled(text), "-o", str(file)]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    segments, begin = [], 0.0
    for name, end in (part.split(":") for part in told):
        if name != "pau":
            segments.append((begin, float(end)))
        begin = float(end)
    samples = np.round(_samples(file.read_bytes())).astype(np.int16)
    words, at = [], 0
    for word in words_of(text):
        count = len(pronounced[word][0])
        if at + count > len(segments):
            return samples, []
        words.append((word, segments[at][0], segments[at + count - 1][1]))
        at += count
    return samples, words if at == len(segments) else []


def word_times(model: vosk.Model, texts: list[str], folder: Path) -> dict[str, list[float]]:
    """
    Seconds by which starts and ends of words are off flite's own, for each of its voices; lines misheard, or said with
    other
    phones than the lexicon's, are left out.
    """
    pronounced = lexicon(sorted({w for text in texts for w in words_of(text)}))
    errors: dict[str, list[float]] = {}
    for voice in ("kal16", "rms", "slt", "awb"):
        errors[voice] = []
        for text in texts:
            samples, truth = _flite_times(voice, text, folder / "times.wav", pronounced)
            heard = hear(model, samples)
            if truth and _text(heard) == [word for word, _, _ in truth]:
                for word, (_, begin, end) in zip(heard, truth, strict=True):
                    errors[voice] += [abs(word["start"] - begin), abs(word["end"] - end)]
    return errors


def placed_times(model: vosk.Model, voice: str, texts: list[str], cache: Path) -> list[float]:
    """Seconds by which the first word's start and the last word's end of lines are off, with known silences between."""
    errors: list[float] = []
    for k, (text, samples) in enumerate(zip(texts, spoken_by(voice, texts, cache), strict=True)):
        lead = RATE * (1 + k % 4) // 2
        heard = hear(model, np.concatenate([np.zeros(lead, np.int16), samples, np.zeros(RATE, np.int16)]))
        if _text(heard) == words_of(text):
            # A synthesiser's own quiet at the ends is no word.
            loud = np.flatnonzero(np.abs(samples.astype(int)) > np.abs(samples.astype(int)).max() * 0.04)
            errors += [
                abs(heard[0]["start"] - (lead + loud[0]) / RATE),
                abs(heard[-1]["end"] - (lead + loud[-1]) / RATE),
            ]
    return errors


def grammars(model: vosk.Model, voices: tuple[str, ...], cache: Path) -> tuple[float, float]:
    """(share of sayings of the grammar heard right, share of other talk in which none of its words was heard)."""
    right, rejected = Counter(), Counter()
    for name, grammar in GRAMMARS.items():
        for voice in voices:
            for text, samples in zip(IN_GRAMMAR[name], spoken_by(voice, IN_GRAMMAR[name], cache), strict=True):
                right[_text(hear(model, np.concatenate([PAUSE, samples, PAUSE]), grammar)) == words_of(text)] += 1
            for samples in spoken_by(voice, OUT_OF_GRAMMAR, cache):
                heard = _text(hear(model, np.concatenate([PAUSE, samples, PAUSE]), grammar))
                rejected[all(w == "[unk]" for w in heard)] += 1
    return right[True] / right.total(), rejected[True] / rejected.total()


def measure(folder: Path, work: Path, lines: int | None = None, voices: tuple[str, ...] | None = None) -> None:
    """
    Prints all figures of the model in `folder` as a table.

    :param lines: of the held-out narrations, spread evenly; all by default
    """
    vosk.SetLogLevel(-1)
    cache = work / "measured"
    cache.mkdir(parents=True, exist_ok=True)
    begun = time.time()
    model = vosk.Model(str(folder))
    print(f"| load | {time.time() - begun:.2f} s |", flush=True)
    texts = sorted({" ".join(words_of(t)) for t in Corpus(1).held_out})
    texts = texts[:: max(1, len(texts) // lines)] if lines else texts
    print(f"| lines, words | {len(texts)}, {sum(len(words_of(t)) for t in texts)} |")
    water = tap(120, cache)
    sums: dict[str, list[float]] = {}
    for voice in voices or UNHEARD_VOICES + OWN_VOICES:
        spoken = spoken_by(voice, texts, cache)
        clean, cost = word_errors(model, texts, spoken)
        noisy, _ = word_errors(model, texts, in_noise(spoken, water, 10))
        kind = "unheard" if voice in UNHEARD_VOICES else "own"
        sums.setdefault(kind, []).append(clean)
        print(f"| {voice} ({kind}) | {clean:.1%} | tap 10 dB {noisy:.1%} | work {cost:.3f} |", flush=True)
    for kind, errors in sums.items():
        print(f"| mean of {kind} | {np.mean(errors):.1%} |")
    for voice, errors in word_times(model, texts[::3], cache).items():
        if errors:
            p50, p95 = np.percentile(errors, [50, 95]) * 1000
            print(f"| word times, flite {voice} | p50 {p50:.0f} ms | p95 {p95:.0f} ms | {len(errors) // 2} words |")
    placed = [e for voice in ("flite-slt", "flite-rms") for e in placed_times(model, voice, texts[::6], cache)]
    if placed:
        p50, p95 = np.percentile(placed, [50, 95]) * 1000
        print(f"| words at known silences | p50 {p50:.0f} ms | p95 {p95:.0f} ms | {len(placed) // 2} lines |")
    for kind, some in (("own", OWN_VOICES[:4]), ("unheard", UNHEARD_VOICES[:2])):
        right, rejected = grammars(model, some, cache)
        print(f"| grammar, {kind} voices | heard right {right:.0%} | other talk rejected {rejected:.0%} |", flush=True)
    random = np.random.default_rng(1)
    for name, sound in {
        "digital silence": np.zeros(10 * RATE),
        "quiet hiss": random.standard_normal(10 * RATE) * 20,
        "tap": water[: 10 * RATE] / np.sqrt(np.mean(water**2)) * 800,
        "440 Hz": 3000 * np.sin(np.arange(10 * RATE) * 2 * np.pi * 440 / RATE),
    }.items():
        print(f"| 10 s of {name} | heard {_text(hear(model, sound.astype(np.int16)))} |")
