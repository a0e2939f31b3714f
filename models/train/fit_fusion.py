"""Fits the weights of ``narrator.hearing.fusion``: ``python -m models.train.fit_fusion FOLDER --cache DIR``.

FOLDER holds narrations (``*.jsonl``); they are spoken by voices that neither ear was trained on, quiet and
in noises made by the project. Each stretch in which the ears differ is one example: was the second ear
nearer to what was said? Prints the weights and what they would do, for ``grammars/hearing/fusion.toml``.
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
from narrator.hearing.moonshine_engine import SteeredDecoder, model_folder
from narrator.hearing.moonshine_model import MoonshineModel
from narrator.hearing.second_ear import FOLDER, ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.spoken import in_words
from narrator.hearing.voice import FRAME
from narrator.wording import word_errors
from tests.bench.spoken import NUMBERS, lines, noisy, own_noises, spoken, tokens

Floats = NDArray[np.float64]


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
    parser.add_argument("--people", type=Path, help="a PACK, whose held out recordings are heard too")
    given = parser.parse_args()
    decoder = SteeredDecoder(MoonshineModel(model_folder()), LanguageModel(given.shop / "language.arpa.gz"))
    ear, noises, rows = ShopEar(given.shop), own_noises(), []
    for number, text in enumerate(lines(given.folder, given.names, given.every)):
        for voice in given.voices:
            for ratio in (None, 10.0):
                sound = noisy(spoken(text, voice, given.cache), ratio, noises, number)
                piece = Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_))
                rows += examples(text, decoder, piece, ear)
    if given.people:
        samples, clips = load(given.people, 2)
        for number, clip in enumerate(held_out(clips, 100, 1)[1][::2]):
            sound = samples[clip.first : clip.first + clip.samples].astype(np.float32) / 32768
            for ratio in (None, 10.0):
                mixed = noisy(np.pad(sound, (4000, 4000)), ratio, noises, number)
                piece = Segment(0, mixed, np.ones(len(mixed) // FRAME, np.bool_))
                rows += [[*row, "people"] for row in examples(clip.text, decoder, piece, ear)]
    given.out.write_text(json.dumps(rows), encoding="utf-8")
    table = np.array([[*row[0], row[1]] for row in rows if row[1]], float)
    weights, constant = fitted(table[:, :-1], table[:, -1])
    print("".join(f"{name} = {value:.3f}\n" for name, value in zip(FEATURES, weights, strict=True)), end="")
    print(f"constant = {constant:.3f}  # from {len(table)} stretches that made a difference")


def fitted(features: Floats, change: Floats, ridge: float = 2.0) -> tuple[Floats, float]:
    """Logistic regression by Newton's method: is the second ear nearer, weighed by words at stake."""
    features = np.clip(features, -8, 8)
    mean, spread = features.mean(0), features.std(0) + 1e-9
    rows = np.column_stack([(features - mean) / spread, np.ones(len(features))])
    better, heavy = change < 0, np.minimum(np.abs(change), 4)
    found = np.zeros(rows.shape[1])
    for _ in range(60):
        chance = 1 / (1 + np.exp(-rows @ found))
        slope = rows.T @ (heavy * (chance - better)) + ridge * np.append(found[:-1], 0)
        bend = (rows * (heavy * chance * (1 - chance))[:, None]).T @ rows + ridge * np.eye(len(found))
        found -= np.linalg.solve(bend, slope)
    weights = found[:-1] / spread
    return weights, float(found[-1] - (mean * weights).sum())


def examples(text: str, decoder: SteeredDecoder, piece: Segment, ear: ShopEar) -> list[list[object]]:
    """Features, error change in words, error change in number words, of every stretch."""
    said = tokens(in_words(text))
    rows: list[list[object]] = []
    scores = ear.scores(piece.samples)
    dictated = chosen(decoder, piece, ear, scores)
    before = tokens(" ".join(in_words(w.word) for w in dictated))
    for s in differences(dictated, ear.hear(piece), scores, ear):
        after = tokens(" ".join(replaced(dictated, s.first, s.last, [w.word for w in s.words])))
        change = word_errors(said, after) - word_errors(said, before)
        numeric = word_errors(*(([w for w in t if w in NUMBERS]) for t in (said, after))) - word_errors(
            *(([w for w in t if w in NUMBERS]) for t in (said, before))
        )
        own = " ".join(w.word for w in dictated[s.first : s.last])
        rows.append([list(s.features), change, numeric, own, " ".join(w.word for w in s.words), text])
    return rows


if __name__ == "__main__":
    main()
