"""Measures the shop's own words: ``python -m tests.bench.own_words NARRATIONS``.

Sentences with invented names are heard by both ears without and with the names in the vocabulary, quiet and
at 10 dB; lines of NARRATIONS (``*.jsonl``) must not get one. Printed: names heard rightly, names put in where
none was said, processor seconds a second, and the time that taking a new file in needs.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np

from models.train.voices import REPORTED
from narrator.hearing.both_ears import BothEars
from narrator.hearing.moonshine_engine import TUNED, SteeredDecoder, model_folder
from narrator.hearing.moonshine_model import MoonshineModel
from narrator.hearing.own_words import own_words
from narrator.hearing.second_ear import ShopEar
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.language.shop_words import make_shop_word, write_shop_words
from narrator.wording import plain_words
from tests.bench.spoken import lines, noisy, own_noises, spoken

NAMES = (
    "flobber valve", "grindle pin", "zorvex pump", "tarnel bushing", "quillet ring", "brasken clamp",
    "morvane filter", "dulcher plate",
)  # fmt: skip
"""Invented parts."""
FRAMES = ("the {} is leaking", "took the {} out", "check the {} before the next one", "new {} going in")


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--cache", type=Path, default=Path("out/spoken"))
    parser.add_argument("--voices", nargs="+", default=list(REPORTED))
    parser.add_argument("--every", type=int, default=8)
    parser.add_argument("--show", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "vocabulary.toml"
        ear = ShopEar(own=path)
        first = SteeredDecoder(
            MoonshineModel(model_folder() or Path(), TUNED), ear.language, own=own_words(path, ear.language)
        )
        both, noises = BothEars(first, ear), own_noises()
        for known in (False, True):
            write_shop_words(path, tuple(make_shop_word(name, "component") for name in NAMES[: 8 * known]))
            began = time.perf_counter()
            own_words(path, ear.language).refresh()
            print(f"{'with' if known else 'without'} the names, taken in {time.perf_counter() - began:.4f} s")
            for ratio in (None, 10.0):
                said = [(frame.format(name), name) for name in NAMES for frame in FRAMES]
                plain = [(text, "") for text in lines(given.folder, [], given.every)]
                right = wrong = 0
                spent = seconds = 0.0
                for number, (text, name) in enumerate(said + plain):
                    for voice in given.voices:
                        sound = noisy(spoken(text, voice, given.cache), ratio, noises, number)
                        piece = Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_))
                        start = time.process_time()
                        heard = " ".join(plain_words(" ".join(w.word for w in both.decode(piece))))
                        spent, seconds = spent + time.process_time() - start, seconds + len(sound) / 16_000
                        right += bool(name) and name in heard
                        wrong += sum(other in heard for other in NAMES if other != name)
                        if given.show and bool(name) != (name in heard and bool(name)):
                            print(f"{name} | {heard}")
                count, others = (len(part) * len(given.voices) for part in (said, plain))
                print(
                    f"{'quiet' if ratio is None else f'{ratio:g} dB':>6}: of {count} names {right} heard, "
                    f"{wrong} put in wrongly (in {others} other lines too), {spent / seconds:.3f} s a second",
                    flush=True,
                )


if __name__ == "__main__":
    main()
