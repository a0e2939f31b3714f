"""Fits the weights of ``narrator.hearing.fusion``: ``python -m models.train.fit_fusion FOLDER --cache DIR``.

FOLDER holds narrations (``*.jsonl``); their lines with two value words or more are spoken by voices that
neither ear was trained on, quiet and in noises made by the project. Each stretch in which the ears differ
is one example: was the second ear nearer to what was said, values counting three times? Prints the weights
for ``grammars/hearing/fusion.toml``.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from models.train.clips import held_out, load
from narrator.hearing.both_ears import chosen
from narrator.hearing.fusion import FEATURES, differences, replaced
from narrator.hearing.language_model import LanguageModel
from narrator.hearing.moonshine_engine import TUNED, SteeredDecoder, model_folder
from narrator.hearing.moonshine_model import MoonshineModel
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.spoken import in_words
from narrator.hearing.voice import FRAME
from tests.bench.spoken import compared, noisy, own_noises, spoken, tokens, value_lines

Floats = NDArray[np.float64]
VALUE = 2
"""What a value's error costs beside the one that it is as a word."""


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--names", nargs="*", default=[])
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--voices", nargs="+", required=True)
    parser.add_argument("--cache", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--shop", type=Path, default=FOLDER, help="the second ear's model")
    parser.add_argument(
        "--people", type=Path, help="a PACK, whose held out recordings are heard too (words alone count)"
    )
    given = parser.parse_args()
    network = MoonshineModel(model_folder(), TUNED)
    decoder = SteeredDecoder(network, LanguageModel(given.shop / "language.arpa.gz"))
    ear, noises, rows = ShopEar(given.shop), own_noises(), []
    for number, text in enumerate(value_lines(given.folder, given.names, given.every)):
        for voice in given.voices:
            for ratio in (None, 10.0):
                sound = noisy(spoken(text, voice, given.cache), ratio, noises, number)
                piece = Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_))
                rows += examples(text, decoder, piece, ear)
    if given.people:
        samples, clips = load(given.people, 2)
        for number, clip in enumerate(held_out(clips, 100, 1)[1]):
            sound = samples[clip.first : clip.first + clip.samples].astype(np.float32) / 32768
            for ratio in (None, 10.0):
                mixed = noisy(np.pad(sound, (4000, 4000)), ratio, noises, number)
                piece = Segment(0, mixed, np.ones(len(mixed) // FRAME, np.bool_))
                rows += [[*row[:2], 0, *row[3:]] for row in examples(clip.text, decoder, piece, ear)]
    given.out.write_text(json.dumps(rows), encoding="utf-8")
    costs = [[*row[0], row[1] + VALUE * row[2]] for row in rows]
    table = np.array([row for row in costs if row[-1]], float)
    weights, constant = fitted(table[:, :-1], table[:, -1])
    print("".join(f"{name} = {value:.3f}\n" for name, value in zip(FEATURES, weights, strict=True)), end="")
    print(f"constant = {constant:.3f}  # from {len(table)} stretches that made a difference")


def fitted(features: Floats, change: Floats, ridge: float = 4.0) -> tuple[Floats, float]:
    """Logistic regression by Newton's method: is the second ear nearer, weighed by what is at stake."""
    features = np.clip(features, -8, 8)
    mean, spread = features.mean(0), features.std(0) + 1e-9
    rows = np.column_stack([(features - mean) / spread, np.ones(len(features))])
    better, heavy = change < 0, np.minimum(np.abs(change), 6)
    found = np.zeros(rows.shape[1])
    for _ in range(60):
        chance = 1 / (1 + np.exp(-rows @ found))
        slope = rows.T @ (heavy * (chance - better)) + ridge * np.append(found[:-1], 0)
        bend = (rows * (heavy * chance * (1 - chance))[:, None]).T @ rows + ridge * np.eye(len(found))
        found -= np.linalg.solve(bend, slope)
    weights = found[:-1] / spread
    return weights, float(found[-1] - (mean * weights).sum())


def examples(text: str, decoder: SteeredDecoder, piece: Segment, ear: ShopEar) -> list[list[object]]:
    """Features, error change in words, error change in values, of every stretch that the rule decides."""
    said = tokens(in_words(text))
    rows: list[list[object]] = []
    scores = ear.scores(piece.samples)
    dictated, texts = chosen(decoder, piece, ear, scores)
    before = errors(said, " ".join(in_words(w.word) for w in dictated))
    for s in differences(dictated, ear.hear(piece), scores, ear, texts):
        if s.kind == "alike":
            continue
        after = errors(said, " ".join(replaced(dictated, s.first, s.last, [w.word for w in s.words])))
        own = " ".join(w.word for w in dictated[s.first : s.last])
        change = (after[0] - before[0], after[1] - before[1])
        rows.append([list(s.features), *change, own, " ".join(w.word for w in s.words), text])
    return rows


def errors(said: list[str], heard: str) -> tuple[int, int]:
    """Errors in words, and in values: wrong, missing or put in."""
    words, right, put_in = compared(said, tokens(heard))
    return words, right.count(False) + put_in


if __name__ == "__main__":
    main()
