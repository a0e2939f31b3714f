"""The second ear's acoustic network in numpy: how well a text fits the sound, and when each word was said.

The same numbers as Vosk computes from the same ``final.mdl`` (tests). Sound to 40 cepstra at 100 frames a
second, to scores of pdfs at 33 frames a second. A pdf is a phone after another: ``left * K + phone`` enters
it, ``K * K`` more holds it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from narrator.hearing.kaldi_model import read_network

Floats = NDArray[np.float32]

FRAME_S = 0.03
"""Seconds between scores."""
_WINDOW, _SHIFT, _FFT, _BANDS, _RATE = 400, 160, 512, 40, 16_000
_LOW_HZ, _HIGH_HZ, _LIFTER = 20.0, 7600.0, 22.0
_CONTEXT, _SUBSAMPLED = 34, 5
_NEVER = np.float32(-1e5)


def cepstra(samples: Floats) -> Floats:
    """Kaldi's MFCC of float32 sound within one, (frames, 40)."""
    frames = np.lib.stride_tricks.sliding_window_view(samples * np.float32(32768), _WINDOW)[::_SHIFT]
    frames = frames - frames.mean(1, keepdims=True)
    frames[:, 1:] -= np.float32(0.97) * frames[:, :-1].copy()
    frames[:, 0] *= np.float32(0.03)
    spectrum = np.fft.rfft(frames * _POVEY, _FFT)
    power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
    out: Floats = np.log(np.maximum(power @ _MEL, 1.1920929e-7)) @ _COSINES
    return out


def _mel_bands() -> Floats:
    low, high = (1127.0 * np.log1p(hertz / 700.0) for hertz in (_LOW_HZ, _HIGH_HZ))
    step = (high - low) / (_BANDS + 1)
    at = 1127.0 * np.log1p(np.arange(_FFT // 2) * _RATE / _FFT / 700.0)
    bands = np.zeros((_FFT // 2 + 1, _BANDS), np.float32)
    for band in range(_BANDS):
        rise = (at - low - band * step) / step
        bands[: _FFT // 2, band] = np.maximum(0.0, np.minimum(rise, 2.0 - rise))
    return bands


def _cosines() -> Floats:
    rows = np.arange(_BANDS)[:, None]
    matrix = np.sqrt(2 / _BANDS) * np.cos(np.pi / _BANDS * (np.arange(_BANDS)[None] + 0.5) * rows)
    matrix[0] = np.sqrt(1 / _BANDS)
    lifter = 1 + 0.5 * _LIFTER * np.sin(np.pi * np.arange(_BANDS) / _LIFTER)
    out: Floats = np.ascontiguousarray((matrix * lifter[:, None]).T, np.float32)
    return out


_POVEY = ((0.5 - 0.5 * np.cos(2 * np.pi * np.arange(_WINDOW) / (_WINDOW - 1))) ** 0.85).astype(np.float32)
_MEL, _COSINES = _mel_bands(), _cosines()


class AcousticModel:
    """The network of one model folder."""

    def __init__(self, folder: Path) -> None:
        _, parts = read_network((folder / "am" / "final.mdl").read_bytes())
        self._first = _affine(parts["tdnn1.affine"])
        self._first_norm = _norm(parts["tdnn1.batchnorm"])
        numbers = sorted(
            int(n[5:].split(".")[0]) for n in parts if n.startswith("tdnnf") and n.endswith(".linear")
        )
        self._layers = [
            (
                n,
                _affine(parts[f"tdnnf{n}.linear"])[0],
                _affine(parts[f"tdnnf{n}.affine"]),
                _norm(parts[f"tdnnf{n}.batchnorm"]),
            )
            for n in numbers
        ]  # fmt: skip
        self._neck, self._wide = _affine(parts["prefinal.neck"])[0], _affine(parts["prefinal.wide"])
        self._wide_norm = _norm(parts["prefinal.batchnorm1"])
        self._last, self._last_norm = _affine(parts["prefinal.last"])[0], _norm(parts["prefinal.batchnorm2"])
        self._output = _affine(parts["output.affine"])
        self.phones = round((len(self._output[1]) / 2) ** 0.5)

    def scores(self, samples: Floats) -> Floats:
        """Scores of every pdf, (frames, pdfs), one frame each 0.03 s."""
        x: Any = cepstra(samples if len(samples) >= _WINDOW else np.pad(samples, (0, _WINDOW - len(samples))))
        count = (len(x) + 2) // 3
        place = np.clip(np.arange(2 * _CONTEXT + 3 * (count - 1) + 1) - _CONTEXT, 0, len(x) - 1)
        x = x[place]
        x = _normed(
            np.concatenate([x[:-2], x[1:-1], x[2:]], 1) @ self._first[0] + self._first[1], self._first_norm
        )
        y: Any
        for number, linear, (weight, bias), norm in self._layers:
            if number == _SUBSAMPLED:
                x = x[::3]
                y, inner = x @ linear @ weight + bias, x
            else:
                y = np.concatenate([x[:-1], x[1:]], 1) @ linear
                y, inner = np.concatenate([y[:-1], y[1:]], 1) @ weight + bias, x[1:-1]
            x = inner * np.float32(0.66) + _normed(y, norm)
        y = _normed(x @ self._neck @ self._wide[0] + self._wide[1], self._wide_norm)
        scale, offset = self._last_norm
        out: Floats = (y @ self._last * scale + offset) @ self._output[0] + self._output[1]
        return out


def _affine(fields: dict[str, Any]) -> tuple[Floats, Floats]:
    return np.ascontiguousarray(fields["LinearParams"].T), fields["BiasParams"]


def _norm(fields: dict[str, Any]) -> tuple[Floats, Floats]:
    scale = 1 / np.sqrt(fields["StatsVar"] + np.float32(fields["Epsilon"]))
    return scale, -fields["StatsMean"] * scale


def _normed(x: Floats, norm: tuple[Floats, Floats]) -> Floats:
    out: Floats = np.maximum(x, 0) * norm[0] + norm[1]
    return out


@dataclass(slots=True)
class _Graph:
    """States of one or several texts: pdfs, neighbours before, the word each belongs to (-1: silence)."""

    enter: list[int]
    before: list[list[int]]
    word: list[int]
    starts: list[int]
    ends: list[list[int]]


Spoken = Sequence[Sequence[Sequence[int]]]
"""For each word its pronunciations, each a row of phone numbers (0 is silence)."""


def _add_text(graph: _Graph, text: Spoken, phones: int) -> None:
    """States of a text: silence or not before, between and after words, every pronunciation."""

    def state(left: int, phone: int, before: list[int], word: int) -> int:
        graph.enter.append(left * phones + phone)
        graph.before.append(before)
        graph.word.append(word)
        return len(graph.enter) - 1

    first = state(0, 0, [], -1)
    graph.starts.append(first)
    open_: dict[int, list[int]] = {0: [first]}
    fresh = True
    for number, ways in enumerate(text):
        ends: dict[int, list[int]] = {}
        for way in ways:
            heads = [state(left, way[0], list(states), number) for left, states in open_.items()]
            if fresh:
                graph.starts.append(heads[0])
            tails = heads
            for left, phone in pairwise(way):
                tails = [state(left, phone, tails, number)]
            ends.setdefault(way[-1], []).extend(tails)
        quiet = [state(left, 0, list(states), -1) for left, states in ends.items()]
        open_ = {**ends, 0: ends.get(0, []) + quiet}
        fresh = False
    graph.ends.append([s for states in open_.values() for s in states])


def best_paths(
    scores: Floats, phones: int, texts: Sequence[Spoken], *, aligned: bool = False
) -> tuple[list[float], list[list[tuple[float, float]]]]:
    """How well each text fits (the best path's score), and for each, if wanted, start and end of its words
    in s."""
    graph = _Graph([], [], [], [], [])
    for text in texts:
        _add_text(graph, text, phones)
    count, width = len(graph.enter), max(1, *map(len, graph.before))
    before = np.full((count, width), count)
    for state, states in enumerate(graph.before):
        before[state, : len(states)] = states
    enter = np.array(graph.enter)
    alpha = np.full(count + 1, _NEVER, np.float32)
    alpha[graph.starts] = scores[0, enter[graph.starts]]
    backs = np.empty((len(scores) if aligned else 1, count), np.int32)
    own, rows = np.arange(count), np.arange(count)
    for t in range(1, len(scores)):
        came = alpha[before]
        pick = came.argmax(1)
        moved = came[rows, pick] + scores[t, enter]
        stayed = alpha[:-1] + scores[t, enter + phones * phones]
        if aligned:
            backs[t] = np.where(moved > stayed, before[rows, pick], own)
        alpha[:-1] = np.maximum(moved, stayed)
    finals = [ends[int(np.argmax(alpha[ends]))] for ends in graph.ends]
    fits = [float(alpha[state]) for state in finals]
    if not aligned:
        return fits, []
    return fits, [
        _times(backs, state, graph.word, len(text)) for state, text in zip(finals, texts, strict=True)
    ]


def _times(backs: NDArray[np.int32], state: int, word: list[int], count: int) -> list[tuple[float, float]]:
    first, last = [0] * count, [0] * count
    for t in range(len(backs) - 1, -1, -1):
        if (number := word[state]) >= 0:
            first[number] = t
            last[number] = last[number] or t + 1
        if t:
            state = int(backs[t, state])
            if state >= len(word):
                break
    return [(a * FRAME_S, b * FRAME_S) for a, b in zip(first, last, strict=True)]
