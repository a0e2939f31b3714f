"""The bundled Moonshine model as three files: an encoder, a decoder with a cache, and its tokens.

Driven directly through onnxruntime, so that every token's probability is at hand.

Encoder: ``input_values`` float32 (1, samples at 16 kHz), ``attention_mask`` int64 of the same shape, gives
``last_hidden_state`` (1, frames, 288), about 41 frames a second. Decoder: ``input_ids`` (1, n), the hidden
state, the same mask at sample resolution, 24 caches (1, 8, t, 36) and ``use_cache_branch``; gives ``logits``
(1, n, 32768) and the caches. The encoder's part of the cache is only right on the first step and kept.
"""

from __future__ import annotations

import os
from copy import copy
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

# From 1.29 on onnxruntime notes each start in ~/.cache and sends it to its makers when there is a network,
# unless this is set before it is loaded (its disable_telemetry_events comes too late). Nothing leaves here.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

import onnxruntime

from narrator.hearing.clearness import NOISY_DB, clear_by

ENCODER, DECODER, TOKENS = "encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"
FILES = (ENCODER, DECODER, TOKENS)
TUNED = ("clear.npz", "noisy.npz")
"""Weights for the encoder: for sound that stands clear, and for noisy sound."""
TUNED_DECODER = "decoder.npz"
"""Weights for the decoder's layers, the same for all sound."""

_SHORTEST = 1_600
"""Samples that the encoder needs at least (0.1 s); shorter sound is filled up with silence."""
_HEADS, _WIDTH = 8, 36

Floats = NDArray[np.float32]
Weights = dict[str, onnxruntime.OrtValue]


@dataclass(slots=True)
class State:
    """What the decoder knows of one piece of sound after some tokens."""

    hidden: Floats
    mask: NDArray[np.int64]
    cache: dict[str, Floats] = field(default_factory=dict)
    begun: bool = False
    rows: dict[str, tuple[Floats, Floats]] = field(default_factory=dict)
    """What was repeated for several texts, and what it was repeated from."""

    def spread(self, name: str, part: Floats, count: int) -> Floats:
        """What all texts of a piece share, once for each of ``count``.

        Copying it anew at each step took a tenth of the dictation's time.
        """
        kept = self.rows.get(name)
        if kept is None or kept[0] is not part or len(kept[1]) < count:
            kept = self.rows[name] = (part, np.repeat(part[:1], count, 0))
        return kept[1][:count]

    def back_to(self, count: int) -> None:
        """Forget all tokens but the first ``count``."""
        for name, part in self.cache.items():
            if ".decoder." in name:
                self.cache[name] = part[:, :, :count]


class MoonshineModel:
    """The networks and the token list of one model folder.

    ``tuned`` is a folder with weights that take the place of its own: for its encoder one file for sound that
    stands clear and one for noisy sound, for its decoder one for both.
    """

    def __init__(self, folder: Path, tuned: Path | None = None) -> None:
        weights = [_weights(tuned / name) for name in TUNED] if tuned else [{}]
        self._encoders = [_session(folder / ENCODER, given) for given in weights]
        decoder = _weights(tuned / TUNED_DECODER) if tuned else {}
        self._held = [*weights, decoder]  # the sessions do not copy what they are given
        self._decoder = _session(folder / DECODER, decoder)
        self._past = [i.name for i in self._decoder.get_inputs() if i.name.startswith("past_key_values")]
        self._outputs = [o.name for o in self._decoder.get_outputs()]
        self.tokens = read_tokens((folder / TOKENS).read_bytes())
        self._folder = folder

    def with_own_encoder(self) -> MoonshineModel:
        """The same decoder behind the encoder that came with the folder; little memory is needed for it."""
        other = copy(self)
        other._encoders = [_session(self._folder / ENCODER)]
        return other

    def encode(self, samples: Floats) -> State:
        """Read a piece of sound (float32 mono at 16 kHz)."""
        if len(samples) < _SHORTEST:
            samples = np.pad(samples, (0, _SHORTEST - len(samples)))
        mask = np.ones((1, len(samples)), np.int64)
        noisy = len(self._encoders) > 1 and clear_by(samples) < NOISY_DB
        (hidden,) = self._encoders[-1 if noisy else 0].run(
            None, {"input_values": samples[None], "attention_mask": mask}
        )
        empty = np.zeros((1, _HEADS, 0, _WIDTH), np.float32)
        return State(hidden, mask, dict.fromkeys(self._past, empty))

    def step(self, state: State, token: int) -> Floats:
        """Log probabilities of the token after ``token``, shape (tokens,); ``state`` moves on by one."""
        ids = np.array([[token]], np.int64)
        return _log_softmax(self._logits(state, ids, state.hidden, state.cache, state.begun)[0, -1])

    def begin(self, state: State, tokens: list[int]) -> NDArray[np.int64]:
        """The likeliest token after each of ``tokens``, read at once as the first of a piece."""
        ids = np.array([tokens], np.int64)
        likeliest: NDArray[np.int64] = self._logits(state, ids, state.hidden, state.cache, False)[0].argmax(1)
        return likeliest

    def _logits(
        self, state: State, ids: NDArray[np.int64], hidden: Floats, cache: dict[str, Floats], cached: bool
    ) -> Floats:
        """Scores (texts, tokens, vocabulary) of what follows ``ids`` (texts, tokens); ``state`` moves on."""
        inputs = {
            "input_ids": ids,
            "encoder_hidden_states": hidden,
            "encoder_attention_mask": state.mask,
            "use_cache_branch": np.array([cached]),
            **cache,
        }
        outputs = dict(zip(self._outputs, self._decoder.run(None, inputs), strict=True))
        self._go_on(state, outputs)
        logits: Floats = outputs["logits"]
        return logits

    def _go_on(self, state: State, outputs: dict[str, Floats]) -> None:
        """Keep what the step leaves for the next one; the encoder's part comes with the first step only."""
        for name in self._past:
            if not state.begun or ".decoder." in name:
                state.cache[name] = outputs[name.replace("past_key_values", "present")]
        state.begun = True

    def step_many(self, state: State, tokens: list[int], parents: list[int]) -> Floats:
        """The same for several texts of one piece at once, shape (texts, tokens).

        ``parents`` names for each text the row of the step before that it goes on from.
        """
        count = len(tokens)
        rows = np.array(parents)
        cache = {
            name: part[rows] if ".decoder." in name and state.begun else state.spread(name, part, count)
            for name, part in state.cache.items()
        }
        ids = np.array(tokens, np.int64)[:, None]
        hidden = state.spread("", state.hidden, count)
        return _log_softmax(self._logits(state, ids, hidden, cache, state.begun)[:, -1])


def _log_softmax(logits: Floats) -> Floats:
    """Log probabilities over the last axis."""
    shifted = logits - logits.max(-1, keepdims=True)
    result: Floats = shifted - np.log(np.exp(shifted).sum(-1, keepdims=True))
    return result


def _weights(file: Path) -> Weights:
    """Tensors by their names in the network; what is kept in half floats is wanted in floats."""
    with np.load(file) as arrays:
        found = {name: arrays[name] for name in arrays.files}
    return {
        name: onnxruntime.OrtValue.ortvalue_from_numpy(
            array.astype(np.float32) if array.dtype == np.float16 else array
        )
        for name, array in found.items()
    }


def _session(path: Path, weights: Weights | None = None) -> onnxruntime.InferenceSession:
    options = onnxruntime.SessionOptions()
    # One thread: the live path shares the machine with the tape, and small matrices gain little by more.
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    # Pieces differ in length; an arena would keep the largest buffers of each.
    options.enable_cpu_mem_arena = options.enable_mem_pattern = False
    options.log_severity_level = 4
    for name, value in (weights or {}).items():
        options.add_initializer(name, value)
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])


def read_tokens(data: bytes) -> list[bytes]:
    """The token list: each a length (one byte, or two from 128 up: low seven bits first) and its bytes.

    Raises:
        ValueError: when the list ends inside a token.
    """
    tokens, at = [], 0
    while at < len(data):
        length = data[at]
        at += 1
        if length >= 128:
            if at >= len(data):
                raise ValueError("the token list ends inside a token")
            length = length - 128 + 128 * data[at]
            at += 1
        if at + length > len(data):
            raise ValueError("the token list ends inside a token")
        tokens.append(data[at : at + length])
        at += length
    return tokens
