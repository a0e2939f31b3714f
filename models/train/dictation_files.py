"""The bundled dictation model's files: weights out of them, and tuned ones: ``python -m
models.train.dictation_files OUT [--clear TUNED ...] [--noisy TUNED ...] [--decoder TUNED ...] [--onto]``,
each TUNED being what a ``models.train.dictation_tune`` wrote (``encoder.npz``, for the decoder
``decoder.npz``): the mean of several tunings hears better than any of them. They are mixed with the wheel's
weights or, with ``--onto``, with those that lie in OUT.

onnxruntime writes an ``.ort`` file again as ``.onnx``; in that the large matrices are 8-bit whole numbers
with a scale and a zero point, the others floats. Needs ``pip install onnx``, a maker's tool.
"""

from __future__ import annotations

import argparse
import re
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
from numpy.typing import NDArray
from onnx import numpy_helper

from narrator.hearing.moonshine_engine import model_folder
from narrator.hearing.moonshine_model import DECODER, ENCODER, TUNED, TUNED_DECODER

Arrays = dict[str, NDArray[np.float32]]
SHARES = (0.65, 0.9, 0.5)
"""Shares of the tuned weights in those for clear and for noisy sound and of the decoder; the others are as
they were (docs/measurements/hearing.md)."""
_LAYER = re.compile(
    r"^/(?:model/decoder/)?(?P<path>.+)/(?:MatMul_quant|MatMul|LayerNormalization|Gather|Conv)$"
)


def graph_of(path: Path) -> onnx.ModelProto:
    """The network of an ``.ort`` file, as onnxruntime writes it again."""
    options = onnxruntime.SessionOptions()
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_DISABLE_ALL
    options.add_session_config_entry("session.save_model_format", "ONNX")
    with tempfile.TemporaryDirectory() as folder:
        options.optimized_model_filepath = f"{folder}/network.onnx"
        onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        return onnx.load(options.optimized_model_filepath)


def _nodes(graph: onnx.GraphProto) -> Iterator[onnx.NodeProto]:
    for node in graph.node:
        yield node
        for attribute in node.attribute:
            if attribute.HasField("g"):
                yield from _nodes(attribute.g)


def _stored(graph: onnx.GraphProto) -> dict[str, onnx.TensorProto]:
    found = {one.name: one for one in graph.initializer}
    for node in graph.node:
        for attribute in node.attribute:
            if attribute.HasField("g"):
                found |= _stored(attribute.g)
    return found


def places(model: onnx.ModelProto) -> Iterator[tuple[str, str]]:
    """Name of each weight in ``dictation_net`` and of the tensor that holds it."""
    stored = _stored(model.graph)
    for node in _nodes(model.graph):
        held = [name for name in node.input if name in stored]
        found = _LAYER.match(node.name)
        path = found["path"].replace("/", ".") if found else ""
        if node.name == "SkipLayerNormalization":
            yield "layer_norm.weight", "layer_norm.weight"
        elif path == "norm" or "layernorm" in path:
            yield f"{path}.weight", next(n for n in held if "Constant" not in n)
        elif node.name.startswith("/groupnorm/") and node.op_type in ("Mul", "Add"):
            yield f"groupnorm.{'weight' if node.op_type == 'Mul' else 'bias'}", held[0]
        elif path == "embed_tokens" or path.startswith("conv") or "quant" in node.name:
            for name in held:
                if name.endswith("_quantized") or (
                    "weight" in name and "scale" not in name and "zero" not in name
                ):
                    yield f"{path}.weight", name
                elif "bias" in name:
                    yield f"{path}.bias", name


def weights(model: onnx.ModelProto, instead: Mapping[str, NDArray[Any]] | None = None) -> Arrays:
    """All weights in floats, matrices as PyTorch has them (outputs, inputs); where tensors are given
    (``tensors``) they stand instead of the model's own."""
    stored = {name: numpy_helper.to_array(one) for name, one in _stored(model.graph).items()}
    stored |= instead or {}
    found: Arrays = {}
    for name, tensor in places(model):
        array = stored[tensor]
        if tensor.endswith("_quantized"):
            scale, zero = (_beside(stored, tensor, part) for part in ("scale", "zero_point"))
            array = (array.astype(np.float32) - zero) * scale
            if name != "embed_tokens.weight":
                array = array.T
        found[name] = np.ascontiguousarray(array.squeeze() if "groupnorm" in name else array, np.float32)
    return found


def _beside(stored: Mapping[str, NDArray[Any]], tensor: str, part: str) -> Any:
    return stored[tensor.removesuffix("quantized") + part].astype(np.float32)


def tensors(model: onnx.ModelProto, tuned: Arrays) -> dict[str, NDArray[Any]]:
    """Tuned weights as the model's file has them, by its own names: matrices in 8 bits with their scale and
    zero point, the rest in half floats; those of which none is given stay the model's own."""
    stored = _stored(model.graph)
    found: dict[str, NDArray[Any]] = {}
    for name, tensor in places(model):
        if name not in tuned:
            continue
        array = tuned[name]
        if not tensor.endswith("_quantized"):
            found[tensor] = array.reshape(tuple(stored[tensor].dims)).astype(np.float16)
            continue
        low, high = min(0.0, float(array.min())), max(0.0, float(array.max()))
        scale = np.float32((high - low) / 255)
        zero = np.uint8(round(-low / float(scale)))
        found[tensor] = np.ascontiguousarray(np.clip(np.rint(array.T / scale) + zero, 0, 255), np.uint8)
        for part, value in (("scale", scale), ("zero_point", zero)):
            beside = tensor.removesuffix("quantized") + part
            found[beside] = np.asarray(value).reshape(tuple(stored[beside].dims))
    return found


def both(folder: Path) -> tuple[Arrays, Arrays]:
    """Weights of encoder and decoder of a model's folder."""
    return weights(graph_of(folder / ENCODER)), weights(graph_of(folder / DECODER))


def mixed(first: Arrays, tunings: list[Arrays], share: float) -> Arrays:
    """The weights as they were and the mean of those of several tunings, of these so large a share; only
    those that were tuned."""
    return {
        name: (1 - share) * first[name] + share * (sum(tuned[name] for tuned in tunings) / len(tunings))
        for name in tunings[0]
    }


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    for part in ("clear", "noisy", "decoder"):
        parser.add_argument(
            f"--{part}", type=Path, nargs="*", default=[], help="none: its file is left alone"
        )
    parser.add_argument("--shares", nargs=3, type=float, default=SHARES)
    parser.add_argument("--onto", action="store_true", help="mix with the weights in OUT, not the wheel's")
    given = parser.parse_args()
    folder = model_folder()
    if folder is None:
        raise SystemExit("moonshine-voice 0.0.49 is missing")
    encoder, decoder = graph_of(folder / ENCODER), graph_of(folder / DECODER)
    rows = zip(
        (encoder, encoder, decoder),
        (*TUNED, TUNED_DECODER),
        (given.clear, given.noisy, given.decoder),
        given.shares,
        strict=True,
    )
    for model, name, files, share in rows:
        if not files:
            continue
        first = weights(model, dict(np.load(given.out / name)) if given.onto else None)
        tunings = [dict(np.load(file)) for file in files]
        np.savez_compressed(given.out / name, **tensors(model, mixed(first, tunings, share)))


if __name__ == "__main__":
    main()
