"""What can be checked of the recipe in a minute, without training: `python -m recipe check`."""

import random

import kaldi_native_fbank as fbank
import numpy as np
import torch

from .alignment import best_path, ctc_topology, hmm_topology, spikes_to_phones
from .graph import LanguageModel
from .kaldi import few_bits
from .lexicon import PHONES, lexicon
from .network import Network, outputs_for, padded
from .sentences import Corpus, narrations, number_words, spoken, words_of
from .sound import BINS, Features, disturbed, equaliser
from .speech import plan
from .training import edits
from .voices import UNHEARD


def _texts_are_read_as_said() -> None:
    assert spoken("Mrs. Alder's pulse is 118, isn't it?") == "mrs alder's pulse is one hundred eighteen, isn't it?"
    assert words_of("120/80 at 36.5") == "one hundred twenty over eighty at thirty six point five".split()
    assert number_words(300) == "three hundred" and number_words(45) == "forty five"


def _held_out_lines_are_not_learnt() -> None:
    corpus = Corpus(7)
    held_out = {" ".join(words_of(line)) for lines in narrations("held-out").values() for line in lines}
    learnt = {" ".join(words_of(s)) for lines in corpus.by_origin.values() for s in lines}
    assert held_out and not held_out & learnt
    assert {w for line in held_out for w in line.split()} <= set(corpus.vocabulary)
    assert Corpus(7).by_origin == corpus.by_origin, "the same seed must give the same sentences"
    for saying in plan(corpus, 7) + plan(corpus, 7, {"kokoro": 1}):
        assert not any(name in saying.name for name in UNHEARD), saying


def _every_word_has_phones() -> None:
    corpus = Corpus(7)
    for word, pronunciations in lexicon(corpus.vocabulary).items():
        assert pronunciations and all(p and set(p) <= set(PHONES) for p in pronunciations), (word, pronunciations)


def _features_are_the_recognisers() -> None:
    sound = (np.random.default_rng(1).standard_normal(16000) * 3000).astype(np.float32)
    options = fbank.MfccOptions()
    options.frame_opts.dither = 0
    options.mel_opts.num_bins = options.num_ceps = BINS
    options.mel_opts.low_freq, options.mel_opts.high_freq = 20, -400
    options.use_energy = False
    theirs = fbank.OnlineMfcc(options)
    theirs.accept_waveform(16000, sound.tolist())
    theirs.input_finished()
    wanted = np.stack([theirs.get_frame(i) for i in range(theirs.num_frames_ready)])
    found = Features()(torch.from_numpy(sound)[None])[0].numpy()
    assert found.shape == wanted.shape and np.abs(found - wanted).max() < 0.01


def _disguises_keep_their_bounds() -> None:
    torch.manual_seed(1)
    speech = torch.randn(12, 20000) * 2000
    changed = disturbed(speech)
    assert changed.shape == speech.shape and changed.abs().max() <= 32768 and torch.equal(changed, changed.round())
    assert equaliser(64, speech).std() < 2


def _outputs_stand_where_the_recogniser_asks() -> None:
    network = Network().eval()
    for frames in (30, 31, 32):
        features = torch.randn(1, frames, BINS)
        shifted = [network(padded(features, k)) for k in range(3)]
        assert all(s.shape[1] == outputs_for(frames) for s in shifted)
    # Away from the ends, output 5 of frames that begin one later is what the second run says at output 5.
    features = torch.randn(1, 90, BINS)
    later = network(padded(features[:, 1:]))[0, 12]
    assert torch.allclose(network(padded(features, 1))[0, 12], later, atol=1e-4)


def _paths_are_the_best() -> None:
    scores = torch.full((1, 12, len(PHONES) + 1), -9.0)
    for t, phone in enumerate([0, 0, 3, 3, 5, 5, 5, 0, 0, 7, 7, 0]):
        scores[0, t, phone] = 0.0
    topology = hmm_topology([[[3, 5], [7]]], torch.device("cpu"))
    path = topology.labels.gather(1, best_path(scores, topology, torch.tensor([12])))[0].tolist()
    assert path == [0, 0, 3, 3, 5, 5, 5, 0, 0, 7, 7, 0], path
    topology = ctc_topology([[3, 5, 7]], torch.device("cpu"))
    path = best_path(scores, topology, torch.tensor([12]))[0]
    labels = spikes_to_phones(path, [3, 5, 7], {2, 3}, 12)
    assert labels is not None and [labels[t] for t in (2, 5, 9)] == [3, 5, 7], labels


def _language_model_adds_up() -> None:
    vocabulary = "bed call curtain light the".split()
    model = LanguageModel([("the call light", 3), ("the bed", 2), ("the curtain", 1)], vocabulary)
    for history in ((), ("<s>",), ("the",), ("<s>", "the"), ("call",), ("call", "light")):
        total = sum(model.of(word, history) for word in [*vocabulary, "</s>"])
        assert abs(total - 1) < 1e-9, (history, total)


def _small_things() -> None:
    assert edits("a b c".split(), "a x c d".split()) == 2
    values = np.array([random.Random(1).uniform(-3, 3) for _ in range(1000)], np.float32)
    assert np.abs(few_bits(values, 7) / values - 1).max() <= 2**-8


def check() -> None:
    """Runs all checks; an AssertionError tells what does not hold."""
    for name, one in list(globals().items()):
        if name.startswith("_") and not name.startswith("__") and callable(one):
            one()
            print(f"{name[1:].replace('_', ' ')}: yes", flush=True)
