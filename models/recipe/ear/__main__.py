"""python -m recipe.ear STEP, in `models/`: see ear/README.md."""
import argparse
import dataclasses
import json
import os
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
WORK = ROOT / '.cache/ear'
BASE = ROOT / 'models/installed/moonshine-tiny-en'
#: Lines that are written down to be spoken: more than 32 cores can say in eight minutes, so that time decides.
LINES = 6000
#: 14-second stretches of noise, and rooms.
NOISES, ROOMS = 640, 300


def prepare(args):
    """What needs the network, texts or onnxruntime: the base's weights, voices, what is to be spoken, rooms."""
    import numpy as np

    from . import noise, texts, voices, weights

    args.work.mkdir(parents=True, exist_ok=True)
    weights.keep(weights.read(BASE), args.work / 'base.npz')
    voices.get(args.work / 'kokoro')
    with np.load(args.work / 'kokoro/voices.npz') as stored:
        known = stored['names'].tolist()
    numbers = voices.symbols(args.work / 'kokoro')
    for name, lines, chosen in (
        ('jobs', texts.training_lines(args.seed, args.lines), None),
        ('test-jobs', texts.test_lines(args.seed), voices.TEST),
    ):
        todo = voices.jobs(lines, known, numbers, args.seed, chosen)
        (args.work / f'{name}.json').write_text(json.dumps(todo))
        print(f'prepare: {len(todo)} {name}', flush=True)
    np.save(args.work / 'rooms.npy', noise.echoes(ROOMS, args.seed))


def check(args):
    """Do the weights read from the published pair give what the pair gives, and does writing them back change nothing?

    :raises SystemExit: they do not
    """
    from . import weights
    from .measuring import load_clips

    clip = max(load_clips(args.work / 'people/readings.npz'), key=lambda c: len(c.samples))
    encoded, logits, same = weights.agreement(BASE, clip.samples)
    print(f'check: encodings correlate by {encoded:.4f}, logits by {logits:.4f}, best tokens are the same in {same:.1%}')
    floats = weights.floats(weights.read(BASE))
    kept = all(weights.put(BASE, floats, side) == (BASE / file).read_bytes() for side, file in weights.FILES.items())
    print(f'check: written back, the files are {"the same" if kept else "OTHERS"}')
    if min(encoded, logits, same) < 0.99 or not kept:
        raise SystemExit('check: the weights are not read as the published model means them; do not train on them.')


def people(args):
    """The test beds."""
    from .people import get

    get(args.work / 'people')


def speak(args):
    """First the neural test set, then the corpus, and the noises."""
    import numpy as np

    from . import measuring, noise, voices

    kokoro = args.work / 'kokoro'
    if not (kokoro / 'kokoro.onnx').exists():
        voices.join(kokoro, kokoro / 'kokoro.onnx')
    given = (kokoro / 'kokoro.onnx', kokoro / 'voices.npz')
    read = lambda name: json.loads((args.work / f'{name}.json').read_text())[: args.most]
    if not (args.work / 'neural.npz').exists():
        voices.speak(read('test-jobs'), *given, args.work / 'test-speech', args.processes, args.seconds)
        spoken = voices.spoken_clips(args.work / 'test-speech')
        bed = {'narration': 'voices', 'number': 'numbers'}
        measuring.save_clips(args.work / 'neural.npz', [measuring.Clip(bed[about['kind']], about['text'], s) for about, s in spoken])
    if not (args.work / 'noises.npy').exists():
        np.save(args.work / 'noises.npy', noise.bank(args.noises, args.seed, args.processes))
        print('speak: noises are made', flush=True)
    voices.speak(read('jobs'), *given, args.work / 'speech', args.processes, args.seconds)


def corpus(args):
    """(voice, Clip) of all that `speak` has spoken."""
    from . import voices
    from .measuring import Clip

    return [(about['voice'], Clip(about['kind'], about['text'], s)) for about, s in voices.spoken_clips(args.work / 'speech')]


def beds(args, part):
    """The clips of a part and the neural test voices; recordings of water. The readings are too few to stop or choose by."""
    from .measuring import load_clips

    files = [f'people/{part}.npz', *(['people/readings.npz'] if part == 'report' else []), 'neural.npz']
    return [clip for file in files for clip in load_clips(args.work / file)][: args.most], load_clips(args.work / 'people/water.npz')


def tokens(args):
    """Of the published model, or of its copy in `--work` on the machine that trains."""
    from .tokens import Tokens

    return Tokens(args.work / 'tokenizer.bin' if (args.work / 'tokenizer.bin').exists() else BASE / 'tokenizer.bin')


def train(args):
    """Trains by the plan `--plan`, then tries mixes of what came out with the base."""
    import numpy as np

    from . import training, weights

    args.out.mkdir(parents=True, exist_ok=True)
    numbers = {f.name: type(f.default) for f in dataclasses.fields(training.Plan) if isinstance(f.default, (int, float))}
    changes = dict(pair.partition('=')[::2] for pair in args.set)
    if args.plan not in training.PLANS or not changes.keys() <= numbers.keys():
        raise SystemExit(f'train: --plan is one of {", ".join(training.PLANS)}; --set takes NAME=NUMBER of {", ".join(numbers)}')
    plan = dataclasses.replace(training.PLANS[args.plan], **{'seed': args.seed} | {k: numbers[k](v) for k, v in changes.items()})
    base, known = weights.kept(args.work / 'base.npz'), tokens(args)
    looks = training.Looks(*beds(args, 'stop'), known, args.device, args.processes)
    noises, rooms = np.load(args.work / 'noises.npy'), np.load(args.work / 'rooms.npy')
    training.train(base, known, corpus(args), noises, rooms, looks, plan, args.plan, args.out, args.device)
    stages = [round(100 * share) for share in plan.keep_at]
    kept = [(f'{args.plan}-{stage}', training.kept_change(args.out / f'{args.plan}-{stage}.npz')) for stage in stages]
    # The last one in all mixes, the earlier ones whole: is stopping early better than going back half-way?
    tries = [(name, change, training.MIXES if name == kept[-1][0] else (1.0,)) for name, change in reversed(kept)]
    training.compare(base, tries, looks, args.plan, args.out, args.device)


def choose(args):
    """All mixes of the given changes on the people and voices that are there to choose by."""
    from . import training, weights

    base, known = weights.kept(args.work / 'base.npz'), tokens(args)
    looks = training.Looks(*beds(args, args.part), known, args.device, args.processes)
    tries = [(Path(path).stem, training.kept_change(path), training.MIXES) for path in args.change]
    training.compare(base, tries, looks, f'choose-{args.part}', args.out, args.device)


def apply(args):
    """The tuned model as files: `--change` times `--share` in the published pair."""
    from . import packing, training, weights

    base = weights.floats(weights.read(BASE))
    change = training.kept_change(args.change[0])
    changed = packing.apply(BASE, {name: base[name] + args.share * value for name, value in change.items()}, args.out / packing.ID)
    print(f'apply: {", ".join(changed)} changed, in {args.out / packing.ID}')


def pack(args):
    """The difference and the catalogue's entry."""
    from . import packing

    entry = packing.pack(BASE, args.out / packing.ID, args.out, f'change {Path(args.change[0]).stem}, share {args.share}')
    print(f'pack: {entry["sources"][0]["bytes"]} bytes')


def evaluate(args):
    """Word errors of the published model and of another (`--model`, a folder) on a part, in quiet and under noise, and the change."""
    from . import measuring, training, weights

    known = tokens(args)
    clips = training.Looks(*beds(args, args.part), known, args.device, args.processes).whole
    heard = []
    for folder in (BASE, args.model):
        model = weights.build(weights.floats(weights.read(folder)), args.device)
        heard.append(measuring.hear(model, known, clips, args.device))
    before, after = measuring.summary(clips, heard[0]), measuring.summary(clips, heard[1], heard[0])
    for bed in before:
        print(json.dumps({'bed': bed, 'base': before[bed], 'model': after[bed]}))


def alone(args):
    """An hour in which nobody speaks, as `alone.wav`: taps, sinks, kitchens, fans, televisions, each for a while and as loud as it comes."""
    import wave

    import numpy as np

    from . import noise, sound

    rng, parts = np.random.default_rng(args.seed), []
    for samples in noise.bank(60 * 60 // 14 + 1, args.seed + 50, args.processes).astype(np.float32):
        loud = 10 ** (rng.uniform(-50, -25) / 20) / np.sqrt(noise.POWER)
        parts.append(sound.to_int16(samples * loud))
    with wave.open(str(args.work / 'alone.wav'), 'wb') as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(sound.RATE)
        file.writeframes(np.concatenate(parts)[: 60 * 60 * sound.RATE].tobytes())


def table(args):
    """The mixes in the logs of `--out`, short."""
    from .training import table as lines

    print(*lines(sorted(args.out.glob('*.log.jsonl'))), sep='\n')


STEPS = {f.__name__: f for f in (prepare, people, check, speak, train, choose, apply, pack, evaluate, alone, table)}


def main():
    parser = argparse.ArgumentParser(prog='recipe.ear')
    parser.add_argument('step', choices=STEPS)
    parser.add_argument('--work', type=Path, default=WORK, help='folder of what the steps hand on')
    parser.add_argument('--out', type=Path, default=WORK / 'out')
    parser.add_argument('--device', default='cpu')
    parser.add_argument('--processes', type=int, default=os.cpu_count())
    parser.add_argument('--seconds', type=float, default=420, help='for speaking, at the most')
    parser.add_argument('--seed', type=int, default=7)
    parser.add_argument('--lines', type=int, default=LINES)
    parser.add_argument('--noises', type=int, default=NOISES)
    parser.add_argument('--most', type=int, help='no more jobs or test clips than these: for a trial')
    parser.add_argument('--plan', default='both')
    parser.add_argument('--set', action='append', default=[], help='NAME=NUMBER of the plan')
    parser.add_argument('--part', default='choose', choices=['stop', 'choose', 'report'])
    parser.add_argument('--change', action='append', default=[], help='a kept change (.npz)')
    parser.add_argument('--share', type=float, default=1.0)
    parser.add_argument('--model', type=Path, default=WORK / 'out/moonshine-tiny-en-tap')
    args = parser.parse_args()
    STEPS[args.step](args)


if __name__ == '__main__':
    main()
