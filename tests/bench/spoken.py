"""Measures hearing on narrations spoken by synthetic voices: ``python -m tests.bench.spoken FOLDER --voices
V ... --cache DIR``.

FOLDER holds ``*.jsonl`` with a ``text`` a line. Each line is spoken once per voice (kept in DIR) and heard
quiet and at the given signal-to-noise ratios, as one piece, by each system: ``wheel`` (the bundled engine's
own call), ``plain`` (our greedy drive of the same model), ``steered``, and ``both`` (steered with the
second ear). Printed per voice and level: word errors; errors in values (number words of sizes, counts,
readings, codes: wrong, missing or put in); values right by the wheel's call that the system makes wrong
(harm), in per cent of those right, and how many of them silently (in lines that do not come up for a look
because of how they were heard); the same for what the program understands of each line (fasteners, readings,
codes, part numbers, prices: missing or put in, against what it understands of the text);
processor seconds a second. Harm is counted against the first system named.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein

from models.train.voices import UNHEARD, speak, written_out
from narrator.hearing.segmenter import Segment
from narrator.hearing.voice import FRAME
from narrator.paths import MODELS
from narrator.values import SAMPLE_RATE
from narrator.wording import plain_words, spell
from tests.bench.spoken_values import asks, understood, ways
from tests.bench.suppressors import SUPPRESSORS

Floats = NDArray[np.float32]
System = Callable[[Floats], str]
NUMBERS = {
    *(spell(n) for n in range(20)), *(spell(n) for n in range(20, 100, 10)),
    "hundred", "thousand", "point", "oh", "half", "quarter", "eighth", "sixteenth",
    *"bcdefghjklmnopqrstuvwxyz",
}  # fmt: skip
"""Words that values are made of; single letters are those of codes."""
SAME = {"oh": "zero", "nought": "zero", "litre": "liter", "tyre": "tire"}


class Heard(str):
    """What a system heard; ``asks``: whether the line comes up for a look because of how it was heard."""

    asks: bool

    def __new__(cls, text: str, *, asks: bool = False) -> Heard:
        """A text with its mark."""
        made = super().__new__(cls, text)
        made.asks = asks
        return made


@dataclass
class Score:
    """Counts over all lines of one cell of the table."""

    words: int = 0
    errors: int = 0
    values: int = 0
    value_errors: int = 0
    harmed: int = 0
    silent: int = 0
    lines: int = 0
    asked: int = 0
    right_before: int = 0
    known: int = 0
    wrong: int = 0
    right_told: int = 0
    lost: int = 0
    seconds: float = 0.0
    sound: float = 0.0


def tokens(text: str) -> list[str]:
    """One spelling of a text's words; letters spelled one after the other count as one word ("p c v",
    "pcv")."""
    words: list[str] = []
    letters = ""
    for word in [*plain_words(text), ""]:
        if len(word) == 1 and word not in "ai":
            letters += word
            continue
        words += [letters] * bool(letters) + [SAME.get(word, word)] * bool(word)
        letters = ""
    return words


def compared(said: list[str], heard: list[str]) -> tuple[int, list[bool], int]:
    """Word errors, whether each said value word was heard, and value words heard that were not said."""
    right = [True] * len(said)
    put_in = 0
    operations = Levenshtein.editops(said, heard)
    for kind, at, to in operations:
        if kind != "insert":
            right[at] = False
        if kind != "delete" and heard[to] in NUMBERS and not (kind == "replace" and said[at] in NUMBERS):
            put_in += 1
    return len(operations), [ok for word, ok in zip(said, right, strict=True) if word in NUMBERS], put_in


def lines(folder: Path, names: list[str], every: int) -> Iterator[str]:
    """Texts of the named narrations."""
    for path in sorted(folder.glob("*.jsonl")):
        if not names or path.stem in names:
            for number, row in enumerate(path.read_text(encoding="utf-8").splitlines()):
                if number % every == 0:
                    yield json.loads(row)["text"]


def value_lines(folder: Path, names: list[str], every: int, first: int = 0) -> list[str]:
    """Texts of the named narrations with two value words or more, each n-th of these."""
    texts = [text for text in lines(folder, names, 1) if sum(word in NUMBERS for word in tokens(text)) >= 2]
    return texts[first::every]


def spoken(text: str, voice: str, cache: Path) -> Floats:
    """A line in a voice, from the cache when it is there."""
    name = hashlib.sha256(f"{voice}|{written_out(text)}".encode()).hexdigest()[:20]
    path = cache / f"{name}.flac"
    if not path.exists():
        cache.mkdir(parents=True, exist_ok=True)
        soundfile.write(path, speak(text, voice), SAMPLE_RATE)
    sound, _ = soundfile.read(path, dtype="float32")
    return np.pad(sound, (4000, 4000))


def noisy(sound: Floats, ratio: float | None, noises: list[Floats], number: int) -> Floats:
    """The sound with a noise at a ratio in dB of speaking over noise."""
    rng = np.random.default_rng(number)
    if ratio is None:
        return (sound + rng.normal(0, 0.0005, len(sound))).astype(np.float32)
    noise = noises[number % len(noises)]
    noise = np.resize(np.roll(noise, -int(rng.integers(len(noise)))), len(sound))
    loud = np.abs(sound) > 0.02 * np.abs(sound).max()
    gain = np.sqrt(np.mean(sound[loud] ** 2) / np.mean(noise**2) / 10 ** (ratio / 10))
    mixed = sound + gain * noise
    return (mixed * min(1.0, 0.99 / np.abs(mixed).max())).astype(np.float32)


def own_noises() -> list[Floats]:
    """Noises made by the project, for choosing weights and thresholds."""
    from models.train.augment import made_noise  # noqa: PLC0415

    return list(made_noise(977, 12))


def wheel() -> System:
    """The bundled engine's own call, its splitter off."""
    import moonshine_voice as package  # noqa: PLC0415

    folder = Path(package.__file__).parent / "assets" / "tiny-en"
    engine = package.Transcriber(str(folder), package.ModelArch.TINY, options={"vad_threshold": "0.0"})

    def hear(sound: Floats) -> str:
        found = engine.transcribe_without_streaming(sound.tolist(), SAMPLE_RATE)
        return " ".join(line.text for line in found.lines)

    return hear


def ours(steered: bool, second: bool) -> System:
    """Our drive of the bundled model."""
    from narrator.hearing.both_ears import BothEars  # noqa: PLC0415
    from narrator.hearing.language_model import LanguageModel  # noqa: PLC0415
    from narrator.hearing.moonshine_engine import (  # noqa: PLC0415
        TUNED,
        MoonshineDecoder,
        SteeredDecoder,
        model_folder,
        own_voice,
    )
    from narrator.hearing.moonshine_model import MoonshineModel  # noqa: PLC0415
    from narrator.hearing.second_ear import ShopEar  # noqa: PLC0415

    network = MoonshineModel(model_folder() or Path(), TUNED if steered else None)
    language = LanguageModel(SHOP[0] / "language.arpa.gz")
    third = partial(own_voice, network)
    decoder = SteeredDecoder(network, language, third=third) if steered else MoonshineDecoder(network)
    both = BothEars(decoder, ShopEar(SHOP[0])) if second else decoder

    def hear(sound: Floats) -> str:
        piece = Segment(0, sound, np.ones(len(sound) // FRAME, np.bool_))
        words = both.decode(piece)
        return Heard(" ".join(word.word for word in words), asks=second and asks(words))

    return hear


def _after(clean: Callable[[Floats], Floats]) -> System:
    """Both ears on what a noise suppressor leaves."""
    both = ours(True, True)
    return lambda sound: both(clean(sound))


SHOP = [MODELS / "shop"]
"""The second ear's model."""
SYSTEMS: dict[str, Callable[[], System]] = {
    "wheel": wheel, "plain": lambda: ours(False, False),
    "steered": lambda: ours(True, False), "both": lambda: ours(True, True),
    **{f"both+{name}": partial(_after, clean) for name, clean in SUPPRESSORS.items()},
}  # fmt: skip


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--names", nargs="*", default=[])
    parser.add_argument("--every", type=int, default=1, help="take each n-th line only")
    parser.add_argument("--values", action="store_true", help="of the lines with two value words or more")
    parser.add_argument("--first", type=int, default=0, help="with --values, begin at the n-th such line")
    parser.add_argument("--voices", nargs="+", default=list(UNHEARD))
    parser.add_argument("--cache", type=Path, default=Path("out/spoken"))
    parser.add_argument("--noises", type=Path, help="folder of 16 kHz noises; the project's own by default")
    parser.add_argument("--snr", nargs="*", type=float, default=[10.0])
    parser.add_argument("--systems", nargs="+", default=["wheel", "plain", "steered", "both"])
    parser.add_argument("--shop", type=Path, default=SHOP[0], help="the second ear's model")
    parser.add_argument("--show", action="store_true", help="print what was heard wrongly")
    given = parser.parse_args()
    SHOP[0] = given.shop
    noises = (
        [soundfile.read(p, dtype="float32")[0] for p in sorted(given.noises.glob("*.flac"))]
        if given.noises
        else own_noises()
    )
    texts = (
        value_lines(given.folder, given.names, given.every, given.first)
        if given.values
        else list(lines(given.folder, given.names, given.every))
    )
    systems = {name: SYSTEMS[name]() for name in given.systems}
    total: dict[tuple[str, str], Score] = {}
    for voice in given.voices:
        for ratio in (None, *given.snr):
            level = "quiet" if ratio is None else f"{ratio:g} dB"
            scores = {name: Score() for name in systems}
            for number, text in enumerate(texts):
                sound = noisy(spoken(text, voice, given.cache), ratio, noises, number)
                _one(text, sound, systems, scores, given.show)
            for name, score in scores.items():
                _print(voice, level, name, score)
                whole = total.setdefault((level, name), Score())
                for key in vars(score):
                    setattr(whole, key, getattr(whole, key) + getattr(score, key))
    for (level, name), score in total.items():
        _print("all", level, name, score)


def _one(text: str, sound: Floats, systems: dict[str, System], scores: dict[str, Score], show: bool) -> None:
    heard: dict[str, str] = {}
    for name, system in systems.items():
        began = time.process_time()
        heard[name] = system(sound)
        scores[name].seconds += time.process_time() - began
        scores[name].sound += len(sound) / SAMPLE_RATE
    said = min(
        map(tokens, ways(written_out(text))),
        key=lambda way: sum(compared(way, tokens(h))[0] for h in heard.values()),
    )
    known, first = understood(text), next(iter(heard.values()))
    before = compared(said, tokens(first))[1]
    for name, words in heard.items():
        score = scores[name]
        errors, values, put_in = compared(said, tokens(words))
        score.words += len(said)
        score.errors += errors
        score.values += len(values)
        score.value_errors += values.count(False) + put_in
        score.right_before += before.count(True)
        harmed = sum(was and not now for was, now in zip(before, values, strict=True))
        asked = isinstance(words, Heard) and words.asks
        score.harmed += harmed
        score.silent += 0 if asked else harmed
        score.asked += asked
        score.lines += 1
        told = understood(words)
        score.known += known.total()
        score.wrong += (known - told).total() + (told - known).total()
        score.right_told += (known & understood(first)).total()
        score.lost += ((known & understood(first)) - told).total()
        if show and errors:
            print(f"{name:>8} | {' '.join(said)} | {' '.join(tokens(words))}")


def _print(voice: str, level: str, name: str, score: Score) -> None:
    harm = 100 * score.harmed / max(1, score.right_before)
    lost = 100 * score.lost / max(1, score.right_told)
    print(
        f"{voice:>22} {level:>6} {name:>8}: words {100 * score.errors / score.words:5.1f} %, "
        f"values {100 * score.value_errors / max(1, score.values):5.1f} % of {score.values}, "
        f"harmed {score.harmed} of {score.right_before}, {harm:4.1f} %, {score.silent} silently "
        f"(a look at {100 * score.asked / max(1, score.lines):.0f} % of lines); "
        f"understood: {100 * score.wrong / max(1, score.known):5.1f} % of {score.known} wrong, "
        f"harmed {score.lost} of {score.right_told}, {lost:4.1f} %; "
        f"{score.seconds / score.sound:.3f} s a second",
        flush=True,
    )


if __name__ == "__main__":
    main()
