"""Sound as everything here keeps it: float32 from -1 to 1, one channel, 16,000 samples a second."""
import math
import subprocess

import numpy as np
from scipy.signal import resample_poly

RATE = 16000
#: 10 ms.
FRAME = RATE // 100
#: Level of every clip, in dB relative to full scale over its active parts, as the tests' spoken lines have it.
SPOKEN_LEVEL = -26.0


def load(path, before=()):
    """Any sound file that ffmpeg reads. `before`: ffmpeg's options for the input, as a file without a header needs.

    :raises subprocess.CalledProcessError: ffmpeg cannot read it
    """
    command = ['ffmpeg', '-v', 'error', *before, '-i', str(path), '-f', 's16le', '-ac', '1', '-ar', str(RATE), '-']
    return from_int16(np.frombuffer(subprocess.run(command, check=True, capture_output=True).stdout, np.int16))


def to_int16(samples):
    return np.clip(np.rint(samples * 32767), -32768, 32767).astype(np.int16)


def from_int16(samples):
    return samples.astype(np.float32) / 32768


def resample(samples, rate):
    """From `rate` samples a second to `RATE`."""
    common = math.gcd(rate, RATE)
    return resample_poly(samples, RATE // common, rate // common).astype(np.float32)


def powers(samples):
    """Mean power of each whole frame."""
    count = len(samples) // FRAME
    return (samples[: count * FRAME].reshape(count, FRAME).astype(np.float64) ** 2).mean(1)


def active_level(samples):
    """Level in dB relative to full scale while somebody speaks: the tests' own (tests/speech/level.ts). -inf for silence."""
    loud = np.sort(powers(samples))[::-1]
    loud = loud[loud > 1e-9]
    if len(loud) == 0:
        return -math.inf
    means = 10 * np.log10(np.cumsum(loud) / np.arange(1, len(loud) + 1))
    below = np.flatnonzero(10 * np.log10(loud[1:]) < means[:-1] - 15.9)
    return float(means[below[0]] if len(below) else means[-1])


def trim(samples, below=45):
    """Without the frames at both ends that lie so many dB under the loudest one."""
    power = powers(samples)
    if len(power) == 0 or power.max() <= 0:
        return samples[:0]
    kept = np.flatnonzero(power > power.max() * 10 ** (-below / 10))
    return samples[kept[0] * FRAME : (kept[-1] + 1) * FRAME]


def spoken(samples):
    """Trimmed, at `SPOKEN_LEVEL`; empty if there is no sound."""
    cut = trim(samples)
    level = active_level(cut) if len(cut) else -math.inf
    return cut[:0] if level == -math.inf else (cut * 10 ** ((SPOKEN_LEVEL - level) / 20)).astype(np.float32)


def mix(speech, noise, snr):
    """Noise under speech: the speech's active level stands `snr` dB above the noise's mean level (tests/speech/noise.ts)."""
    mean = 10 * math.log10(float(np.mean(noise.astype(np.float64) ** 2)) + 1e-12)
    return np.clip(speech + noise * 10 ** ((active_level(speech) - snr - mean) / 20), -1, 1).astype(np.float32)
