"""What stands under the speech in training: taps, pots, splashes, kitchens, fans, a television and talk in the room, and the rooms' echoes.

All is made here from random numbers; no recording is learnt from. The tests' tap (tests/speech/noise.ts) is one of many that could come
out, and real water (Debian's minetest-data) is kept for tests.
"""
import numpy as np
from scipy.signal import lfilter

from .sound import RATE

#: What a stretch of noise is, and how often.
SHARES = {'tap': 0.42, 'sink': 0.2, 'kitchen': 0.12, 'fan': 0.14, 'television': 0.12}
#: Stretches are kept with this power, so that 16-bit floats hold them well.
POWER = 0.01


def bandpass(samples, hertz, q):
    """Second-order band-pass with a peak gain of 1 (the biquad BPF of Robert Bristow-Johnson's cookbook)."""
    w = 2 * np.pi * hertz / RATE
    a = np.sin(w) / (2 * q)
    return lfilter(np.array([a, 0, -a]) / (1 + a), [1, -2 * np.cos(w) / (1 + a), (1 - a) / (1 + a)], samples)


def swell(count, rate, rng, low=0.6, high=1.4):
    """A gain that wanders between two bounds, about `rate` times a second."""
    every = max(1, round(RATE / rate))
    points = rng.uniform(low, high, count // every + 3)
    at = np.arange(count) / every
    i = at.astype(int)
    blend = (1 - np.cos(np.pi * (at - i))) / 2
    return points[i] * (1 - blend) + points[i + 1] * blend


def ring(out, at, hertz, seconds, loud, rise=0.0):
    """Adds one dying tone that starts at a sample; its pitch rises by the share `rise` while it dies."""
    length = min(len(out) - at, int(5 * seconds * RATE))
    k = np.arange(length)
    decay = seconds * RATE
    out[at : at + length] += loud * np.exp(-k / decay) * np.sin(2 * np.pi * hertz / RATE * k * (1 + rise * k / decay))


def bubbles(count, rng, per_second, loud):
    """Air in water: radii of 1 to 10 mm ring at 3.26 / radius hertz (Minnaert 1933)."""
    out = np.zeros(count)
    for _ in range(int(count / RATE * per_second)):
        radius = np.exp(rng.uniform(np.log(0.001), np.log(0.01)))
        ring(out, rng.integers(count), 3.26 / radius, rng.uniform(0.005, 0.04), loud * rng.random(), rng.uniform(0, 0.05))
    return out


def tap(count, rng):
    """Running water: one to four humps with their own pitch, width and swell, hiss, and mostly bubbles."""
    out = np.zeros(count)
    for _ in range(rng.integers(1, 5)):
        hump = bandpass(rng.uniform(-1, 1, count), np.exp(rng.uniform(np.log(200), np.log(6500))), rng.uniform(0.3, 2))
        rate = np.exp(rng.uniform(np.log(0.2), np.log(6)))
        out += rng.uniform(0.2, 1.2) * hump * swell(count, rate, rng, rng.uniform(0.3, 0.9), rng.uniform(1.1, 2))
    out += rng.choice([0, 0.02, 0.08, 0.3, 0.8]) * rng.uniform(-1, 1, count)
    out /= np.sqrt(np.mean(out**2)) + 1e-9
    return out + (bubbles(count, rng, rng.uniform(2, 40), rng.uniform(0.3, 4)) if rng.random() < 0.75 else 0)


def sink(count, rng):
    """A tap into a sink in use: hands break the stream, water splashes, the flow is turned up, down or off, a pot rings under it."""
    out = tap(count, rng)
    breaks = swell(count, rng.uniform(1, 5), rng, rng.uniform(0.05, 0.5), 1.5)
    out = out * breaks if rng.random() < 0.6 else out
    if rng.random() < 0.4:
        # Turned on or off, within a tenth of a second to a second.
        start, slope = rng.integers(count), rng.uniform(0.1, 1) * RATE
        turned = 1 / (1 + np.exp(-np.clip((np.arange(count) - start) / slope * 8, -50, 50)))
        out = out * (turned if rng.random() < 0.5 else 1 - turned)
    for _ in range(int(count / RATE * rng.uniform(0, 2.5))):
        length = int(rng.uniform(0.03, 0.4) * RATE)
        at = rng.integers(max(1, count - length))
        burst = bandpass(rng.uniform(-1, 1, length), np.exp(rng.uniform(np.log(500), np.log(5000))), rng.uniform(0.3, 1))
        out[at : at + length] += burst * np.exp(-np.arange(length) / length * rng.uniform(3, 8)) * rng.uniform(1, 12)
    if rng.random() < 0.5:
        resonances = np.exp(rng.uniform(np.log(250), np.log(4000), rng.integers(1, 4)))
        out = out + sum(rng.uniform(0.3, 2) * bandpass(out, hertz, rng.uniform(5, 40)) for hertz in resonances)
    return out


def coloured(count, rng):
    """Noise with a random smooth spectrum, falling by 0 to 6 dB an octave: a room, a fan, the hiss of a microphone."""
    hertz = np.fft.rfftfreq(count, 1 / RATE) + 20
    knots = np.linspace(np.log(20), np.log(8020), 9)
    gain = np.interp(np.log(hertz), knots, rng.normal(0, 6, 9)) - rng.uniform(0, 6) * np.log2(hertz / 20)
    spectrum = (rng.normal(size=len(hertz)) + 1j * rng.normal(size=len(hertz))) * 10 ** (gain / 20)
    return np.fft.irfft(spectrum, count)


def fan(count, rng):
    """Coloured noise, and often the hum of a motor with its overtones."""
    out = coloured(count, rng)
    out = out / (np.sqrt(np.mean(out**2)) + 1e-9) * swell(count, rng.uniform(0.2, 3), rng, 0.7, 1.3)
    if rng.random() < 0.5:
        base, t = rng.uniform(45, 240), np.arange(count) / RATE
        for k in range(1, rng.integers(3, 12)):
            out = out + rng.uniform(0, 1.5) / k * np.sin(2 * np.pi * base * k * t + rng.uniform(0, 6.28))
    return out


def kitchen(count, rng):
    """Crockery, cutlery, drawers and steps over a quiet room: clicks and dying tones."""
    out = fan(count, rng) * rng.uniform(0.05, 0.6)
    for _ in range(int(count / RATE * rng.uniform(0.5, 5))):
        at, loud = rng.integers(count), rng.uniform(1, 8)
        if rng.random() < 0.7:
            for hertz in np.exp(rng.uniform(np.log(600), np.log(7500), rng.integers(2, 7))):
                ring(out, at, hertz, np.exp(rng.uniform(np.log(0.01), np.log(0.25))), loud * rng.random())
        else:
            length = min(count - at, int(rng.uniform(0.02, 0.25) * RATE))
            thump = bandpass(rng.uniform(-1, 1, length), rng.uniform(80, 900), rng.uniform(0.4, 1.5)) if length > 8 else np.zeros(length)
            out[at : at + length] += loud * 2 * thump * np.exp(-np.arange(length) / (length + 1) * 5)
    return out


def television(count, rng):
    """Chords that change, and noise in the rhythm of speech: sound like a set in the next room, without words."""
    out, at = np.zeros(count), 0
    while at < count:
        length = min(count - at, int(rng.uniform(0.15, 1.2) * RATE))
        base, t = np.exp(rng.uniform(np.log(90), np.log(700))), np.arange(length) / RATE
        for ratio in rng.choice([1, 1.25, 1.5, 2, 2.5, 3], rng.integers(1, 5)):
            out[at : at + length] += rng.uniform(0.1, 1) * np.sin(2 * np.pi * base * ratio * t) * np.exp(-t * rng.uniform(0, 4))
        at += length
    speechlike = coloured(count, rng)
    speechlike *= swell(count, rng.uniform(3, 7), rng, 0, 1.5) / (np.sqrt(np.mean(speechlike**2)) + 1e-9)
    return out * rng.uniform(0, 1) + speechlike * rng.uniform(0.2, 1)


KINDS = {'tap': tap, 'sink': sink, 'kitchen': kitchen, 'fan': fan, 'television': television}


def stretch(seed, seconds=14):
    """One stretch of noise for a seed: float16 samples with mean power `POWER`."""
    rng = np.random.default_rng(seed)
    out = KINDS[rng.choice(list(SHARES), p=list(SHARES.values()))](int(seconds * RATE), rng)
    return (np.clip(out * np.sqrt(POWER / (np.mean(out**2) + 1e-12)), -30, 30)).astype(np.float16)


def bank(count, seed, processes):
    """(count, samples) float16: the noises of a training."""
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(processes) as pool:
        return np.stack(list(pool.map(stretch, range(seed * 100_000, seed * 100_000 + count), chunksize=4)))


def echoes(count, seed, samples=6400):
    """(count, samples) float16: impulse responses of bedrooms, bathrooms and wards by pyroomacoustics' image sources.

    The direct sound comes first, with gain 1; 0.4 s hold what is above the noise in most such rooms.
    """
    import pyroomacoustics

    rng = np.random.default_rng(seed)
    made = []
    while len(made) < count:
        size = [rng.uniform(1.6, 8), rng.uniform(1.6, 6), rng.uniform(2.3, 3.4)]
        absorption = rng.uniform(0.08, 0.5)
        room = pyroomacoustics.ShoeBox(size, fs=RATE, materials=pyroomacoustics.Material(absorption), max_order=14)
        mouth, ear = (np.array([rng.uniform(0.3, s - 0.3) for s in size[:2]] + [rng.uniform(0.8, 1.7)]) for _ in 'ab')
        if np.linalg.norm(mouth - ear) < 0.25:
            continue
        room.add_source(mouth)
        room.add_microphone(ear)
        room.compute_rir()
        response = room.rir[0][0]
        direct = int(np.argmax(np.abs(response)))
        response = np.pad(response[direct:], (0, samples))[:samples] / response[direct]
        made.append(response.astype(np.float16))
    return np.stack(made)
