"""All text that the project owns, as sentences in words: for the trade's language model and for synthesis."""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Iterator
from typing import Any

from models.train.phrases import sentences, tables
from models.understanding.corpus import excerpts, narrations
from narrator.paths import GRAMMARS, SAMPLE_SESSIONS
from narrator.wording import spell

_PIECE = re.compile(r"\d+(?:,\d{3})+|\d+\.\d+|\.\d+|\d+|[a-z]+(?:'[a-z]+)*|%")
_DIGITS = "zero one two three four five six seven eight nine".split()
_UNITS = {
    "mm": "millimeters", "nm": "newton meters", "v": "volts", "psi": "psi", "km": "kilometers", "%": "percent",
    "rpm": "rpm", "kpa": "kilopascals", "mv": "millivolts", "ma": "milliamps", "hz": "hertz", "kw": "kilowatts",
}  # fmt: skip
_GLUED = re.compile(r"(?<=\d)(?=[a-z])|(?<=[a-z])(?=\d)")
FRAMES = (
    "{}", "{}", "{} is gone", "the {} is leaking", "new {} going in", "{} off", "took the {} out", "i think it's the {}",
    "check the {}", "could be the {}", "{} back on", "{} looks fine", "so it's not the {}", "{} was loose",
)  # fmt: skip
"""How a thing's name is said in a narration."""


def in_words(text: str) -> str:
    """A written line as it is said: lower case, figures as words, no punctuation."""
    text = text.lower().replace("’", "'").replace("x-ray", "xray").replace("€", " euros ").replace("$", " dollars ")
    words: list[str] = []
    for piece in _PIECE.findall(_GLUED.sub(" ", text)):
        after_number = bool(words) and words[-1] in _NUMBER_WORDS
        words += _said(piece, after_number).split()
    return " ".join(words)


_NUMBER_WORDS = frozenset([*(spell(n) for n in range(20)), *(spell(n) for n in range(20, 100, 10)), "hundred"])


def _said(piece: str, after_number: bool) -> str:
    if piece[0].isdigit() or piece[0] == ".":
        return _figure(piece.replace(",", ""))
    return _UNITS.get(piece, piece) if after_number or piece == "%" else piece


def _figure(digits: str) -> str:
    whole, _, part = digits.partition(".")
    if len(whole) > 6 or (len(whole) > 1 and whole[0] == "0"):
        return " ".join(_DIGITS[int(d)] for d in whole)
    said = spell(int(whole)) if whole else ""
    if 1900 <= int(whole or 0) <= 2099 and not part and int(whole) % 100 > 9:
        said = f"{spell(int(whole) // 100)} {spell(int(whole) % 100)}"
    return said + (" point " + " ".join(_DIGITS[int(d)] for d in part) if part else "")


def narrated() -> Iterator[str]:
    """Every line of the project's own narrations, excerpts and sample scripts."""
    for talk in (*narrations(), *excerpts()):
        yield from (in_words(line.meant) for line in talk.lines)
    for script in sorted(SAMPLE_SESSIONS.glob("*/script.toml")):
        rows = tomllib.loads(script.read_text(encoding="utf-8"))["line"]
        yield from (in_words(row["say"]) for row in rows)


def examples() -> Iterator[str]:
    """The example sentences of every rule of the grammars."""
    for path in sorted(GRAMMARS.rglob("*.toml")):
        yield from (in_words(text) for text in _examples(tomllib.loads(path.read_text(encoding="utf-8"))))


def _examples(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        for key, value in node.items():
            if key in ("example", "not") and isinstance(value, str):
                yield value
            else:
                yield from _examples(value)
    elif isinstance(node, list):
        for value in node:
            yield from _examples(value)


def names() -> list[str]:
    """Every name of the trade vocabulary, in order."""
    found: dict[str, None] = {}
    for path in sorted((GRAMMARS / "vocabulary").glob("*.toml")):
        for group in tomllib.loads(path.read_text(encoding="utf-8")).get("group", []):
            lines = group.get("words", "")
            if isinstance(lines, str):
                found.update((in_words(name), None) for name in re.split(r"[,\n]", lines) if name.strip())
    return [name for name in found if name]


def framed(seed: int) -> Iterator[str]:
    """Each trade name in a frame as a narration would have it."""
    rng = random.Random(seed)
    yield from (rng.choice(FRAMES).format(name) for name in names())


def orders() -> list[str]:
    """Words of spoken control."""
    said: list[str] = tables()["commands"]["orders"]
    return said


def everything(seed: int, phrases: int = 60_000) -> list[str]:
    """Sentences for a language model; narrations count several times, as they are how people talk."""
    own = [line for line in narrated() if line]
    text = own * 6 + list(examples()) * 2 + list(framed(seed)) + list(framed(seed + 1)) + orders() * 2
    return [line for line in text if line] + sentences(phrases, seed)
