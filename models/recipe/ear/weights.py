"""The published recogniser's weights: read from its .ort pair by name, and put back into the same bytes.

The pair is an export of transformers' Moonshine (encoder_model, decoder_model_merged) after onnxruntime's dynamic quantisation: the
weight of each matrix product is uint8 with one scale and one zero point, the token embedding likewise, all else float32. Nodes keep
the path of the layer they came from, so a weight's name follows from its node and nothing is guessed from shapes.
"""
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

FILES = {'encoder': 'encoder_model.ort', 'decoder': 'decoder_model_merged.ort'}
#: The output matrix is the token embedding in training; the decoder's file holds it twice, quantised apart.
TIED = {'proj_out.weight': 'model.decoder.embed_tokens.weight'}
PRODUCTS = ('MatMulIntegerToFloat', 'DynamicQuantizeMatMul')


def _reader():
    """onnxruntime's own reader of its format; it lies in a folder of tools that is not on the path."""
    import onnxruntime

    sys.path.insert(0, str(Path(onnxruntime.__file__).parent / 'tools/ort_format_model'))
    import ort_flatbuffers_py.fbs  # noqa: F401
    from ort_flatbuffers_py.fbs.InferenceSession import InferenceSession
    from ort_flatbuffers_py.fbs.TensorDataType import TensorDataType

    kinds = {'FLOAT': np.float32, 'UINT8': np.uint8, 'INT8': np.int8, 'INT64': np.int64, 'INT32': np.int32, 'BOOL': np.bool_}
    return InferenceSession, {getattr(TensorDataType, name): kind for name, kind in kinds.items()}


@dataclass(frozen=True)
class Quantised:
    """Whole numbers 0 to 255; the weight is (values - zero) * scale."""

    values: np.ndarray
    scale: float
    zero: int

    def floats(self):
        return (self.values.astype(np.float32) - self.zero) * np.float32(self.scale)

    def rounded(self, weight):
        """A weight of the same shape in whole numbers, by the old scale and zero point; what lies beyond is cut."""
        return np.clip(np.rint(np.asarray(weight, np.float32) / np.float32(self.scale)) + self.zero, 0, 255).astype(np.uint8)


@dataclass(frozen=True)
class Place:
    """Where a weight lies. `views` look into the file's bytes; a tensor may stand there several times (two branches of a graph)."""

    views: list
    #: Of the weight in training; the file may hold it turned or with more dimensions.
    shape: tuple
    turned: bool = False
    scale: float | None = None
    zero: int | None = None

    def read(self):
        stored = self.views[0]
        if self.scale is None:
            return stored.astype(np.float32).reshape(self.shape)
        return Quantised((stored.T if self.turned else stored).copy(), self.scale, self.zero)

    def write(self, values):
        for view in self.views:
            view[...] = (values.T if self.turned else values).reshape(view.shape)


class OrtFile:
    """One .ort file. `places` holds its weights by the names that training gives them."""

    def __init__(self, path, side):
        """:param side: 'encoder' or 'decoder'"""
        session, self.kinds = _reader()
        self.data = np.frombuffer(bytearray(Path(path).read_bytes()), np.uint8)
        self.tensors, self.nodes = {}, []
        self._collect(session.GetRootAsInferenceSession(self.data.data, 0).Model().Graph())
        self.places = self._encoder() if side == 'encoder' else self._decoder()

    def _collect(self, graph):
        for i in range(graph.InitializersLength()):
            tensor = graph.Initializers(i)
            if not tensor.RawDataLength():
                continue
            shape = [tensor.Dims(k) for k in range(tensor.DimsLength())]
            view = tensor.RawDataAsNumpy().view(self.kinds[tensor.DataType()]).reshape(shape)
            self.tensors.setdefault(tensor.Name().decode(), []).append(view)
        for i in range(graph.NodesLength()):
            node = graph.Nodes(i)
            inputs = [node.Inputs(k).decode() for k in range(node.InputsLength())]
            self.nodes.append((node.OpType().decode(), node.Name().decode(), inputs))
            for k in range(node.AttributesLength()):
                inner = node.Attributes(k).G()
                if inner is not None:
                    self._collect(inner)

    def _plain(self, name, shape=None):
        views = self.tensors[name]
        return Place(views, tuple(shape or views[0].shape))

    def _quantised(self, name, turned):
        views = self.tensors[f'{name}_quantized']
        scale = float(self.tensors[f'{name}_scale'][0].ravel()[0])
        zero = int(self.tensors[f'{name}_zero_point'][0].ravel()[0])
        return Place(views, views[0].T.shape if turned else views[0].shape, turned, scale, zero)

    def _products(self, prefix):
        """The weights of matrix products, by the path of the layer that they stand in."""
        found = {}
        for kind, name, inputs in self.nodes:
            if kind in PRODUCTS:
                weight = next(i for i in inputs if i.endswith('_quantized') and i in self.tensors).removesuffix('_quantized')
                layer = name.strip('/').rsplit('/MatMul', 1)[0].replace('/', '.')
                full = 'proj_out.weight' if layer in ('proj_out', 'lm_head') else f'{prefix}{layer}.weight'
                found[full] = self._quantised(weight, turned=True)
        return found

    def _encoder(self):
        prefix = 'model.encoder.'
        places = self._products(prefix)
        for name in self.tensors:
            bare = name.split('_merged_')[0].removesuffix('_add_tensor')
            is_ours = bare.startswith(('layers.', 'layer_norm.')) or bare in ('conv2.bias', 'conv3.bias')
            if is_ours or (name.endswith('_add_tensor') and bare in ('conv1.weight', 'conv2.weight', 'conv3.weight')):
                places[prefix + bare] = self._plain(name)
        for node, weight in (('/groupnorm/Mul', 'weight'), ('/groupnorm/Add', 'bias')):
            inputs = next(inputs for _, name, inputs in self.nodes if name == node)
            name = next(i for i in inputs if i in self.tensors)
            places[f'{prefix}groupnorm.{weight}'] = self._plain(name, (self.tensors[name][0].size,))
        return places

    def _decoder(self):
        places = self._products('')
        for name in self.tensors:
            bare = name.split('_merged_')[0]
            if bare.startswith('model.decoder.') and '_quantized' not in bare and 'embed_tokens' not in bare:
                places[bare] = self._plain(name)
        embedding = next(name for name in self.tensors if 'embed_tokens' in name and name.endswith('_quantized'))
        places['model.decoder.embed_tokens.weight'] = self._quantised(embedding.removesuffix('_quantized'), turned=False)
        return places


def read(folder):
    """The pair's weights by name: float32 arrays, and `Quantised` for those the files hold so."""
    found = {}
    for side, file in FILES.items():
        found |= {name: place.read() for name, place in OrtFile(Path(folder) / file, side).places.items()}
    return found


def floats(weights):
    """As transformers' MoonshineForConditionalGeneration takes them: name to float32 array."""
    return {name: w.floats() if isinstance(w, Quantised) else w for name, w in weights.items()}


def near(base, weight):
    """The float32 nearest to `weight` whose two low bytes are those of `base`, so that the difference is packed in two bytes, not four.

    A step is 1/128 of the weight's own size, as in bfloat16; training moves weights in that precision anyway.
    """
    low = np.ascontiguousarray(base, np.float32).view(np.uint32).astype(np.int64) & 0xFFFF
    bits = np.ascontiguousarray(weight, np.float32).view(np.uint32).astype(np.int64)
    sign, size = bits & 0x80000000, bits & 0x7FFFFFFF
    high = np.maximum((size - low + 0x8000) & ~0xFFFF, 0)
    return (sign | (high + low)).astype(np.uint32).view(np.float32)


def as_shipped(weights, changed):
    """What a change comes to in the file: the changed weights (names to arrays) rounded as `put` rounds them, as floats."""
    return {
        name: Quantised(base.rounded(changed[name]), base.scale, base.zero).floats()
        if isinstance(base := weights[name], Quantised)
        else near(base, changed[name])
        for name in changed
    }


def put(base_folder, changed, side):
    """The bytes of one file with changed weights in it, the old scales and zero points kept: the same graph and size.

    :param changed: name to the whole new weight; names of the other side are left out
    :raises ValueError: no name belongs to this side
    """
    file = OrtFile(Path(base_folder) / FILES[side], side)
    own = {name: w for name, w in changed.items() if name in file.places}
    for name, source in TIED.items():
        if name in file.places and source in changed:
            own[name] = changed[source]
    if not own:
        raise ValueError(f'nothing to change in the {side}: no weight of it among {len(changed)} names')
    for name, weight in own.items():
        place = file.places[name]
        old = place.read()
        place.write(old.rounded(weight) if isinstance(old, Quantised) else near(old, weight))
    return file.data.tobytes()


def keep(weights, path):
    """Writes weights as one file that needs no onnxruntime to read: what travels to the machine that trains."""
    arrays = {}
    for name, w in weights.items():
        if isinstance(w, Quantised):
            arrays[name] = w.values
            arrays[f'{name}|scale'] = np.array([w.scale, w.zero])
        else:
            arrays[name] = w
    np.savez_compressed(path, **arrays)


def kept(path):
    """What `keep` wrote."""
    with np.load(path) as arrays:
        found = {}
        for name in arrays.files:
            if name.endswith('|scale'):
                continue
            if f'{name}|scale' in arrays.files:
                scale, zero = arrays[f'{name}|scale']
                found[name] = Quantised(arrays[name], float(scale), int(zero))
            else:
                found[name] = arrays[name]
        return found


def build(weights, device='cpu'):
    """transformers' model with these weights (float arrays by name).

    :raises RuntimeError: a weight is missing, too many, or of another shape: the published model is another one
    """
    import torch
    from transformers import MoonshineConfig, MoonshineForConditionalGeneration

    model = MoonshineForConditionalGeneration(MoonshineConfig())
    given = {name: torch.tensor(w) for name, w in weights.items()}
    for name, source in TIED.items():
        given[name] = given[source]
    model.load_state_dict(given)
    return model.to(device).eval()


def agreement(folder, samples):
    """How near transformers' model with the dequantised weights comes to the published pair in onnxruntime, on one clip.

    The pair rounds what flows through it as well, so that they never agree wholly.

    :param samples: (n,) float32
    :returns: correlation of the encodings, of the logits, and the share of places with the same best token
    """
    import onnxruntime
    import torch

    from .measuring import greedy
    from .tokens import BEGIN

    model, sound = build(floats(read(folder))), samples[None]
    encoder = onnxruntime.InferenceSession(str(Path(folder) / FILES['encoder']))
    decoder = onnxruntime.InferenceSession(str(Path(folder) / FILES['decoder']))
    encoded = encoder.run(None, {'input_values': sound, 'attention_mask': np.ones(sound.shape, np.int64)})[0]
    with torch.no_grad():
        ours = model.model.encoder(torch.from_numpy(sound))
        ids = torch.tensor([[BEGIN, *greedy(model, torch.from_numpy(sound), 100)[0]]])
        logits = model(encoder_outputs=ours, decoder_input_ids=ids, use_cache=False).logits.numpy()
    past = {i.name: np.zeros([0, 8, 1, 36], np.float32) for i in decoder.get_inputs() if i.name.startswith('past')}
    published = decoder.run(
        ['logits'],
        {
            'input_ids': ids.numpy(),
            'encoder_hidden_states': encoded,
            # The mask is of the sound's length; the graph takes every 384th of it.
            'encoder_attention_mask': np.ones((1, encoded.shape[1] * 384), np.int64),
            'use_cache_branch': np.array([False]),
            **past,
        },
    )[0]
    alike = lambda a, b: float(np.corrcoef(a.ravel(), b.ravel())[0, 1])
    same = float((published.argmax(-1) == logits.argmax(-1)).mean())
    return alike(encoded, ours.last_hidden_state.numpy()), alike(published, logits), same
