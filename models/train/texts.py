"""All text that the project owns, as sentences in words: for the trade's language model and for synthesis."""

from __future__ import annotations

import json
import random
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from models.train.phrases import sentences, tables
from models.understanding.corpus import excerpts, narrations, stories
from narrator.hearing.spoken import NUMBER_WORDS, in_words
from narrator.paths import GRAMMARS, SAMPLE_SESSIONS

FRAMES = (
    "{}", "{}", "{} is gone", "the {} is leaking", "new {} going in", "{} off", "took the {} out",
    "i think it's the {}",
    "check the {}", "could be the {}", "{} back on", "{} looks fine", "so it's not the {}", "{} was loose",
)  # fmt: skip
"""How a thing's name is said in a narration."""


def narrated() -> Iterator[str]:
    """Every line of the project's own narrations, excerpts, stories and sample scripts."""
    for talk in (*narrations(), *excerpts(), *stories()):
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


def told() -> list[str]:
    """Sentences as people told them, for a language model."""
    return [line for line in narrated() if line]


def made(seed: int, phrases: int = 60_000) -> list[str]:
    """Sentences that templates, examples and names make, for a language model."""
    text = list(examples()) * 2 + list(framed(seed)) + list(framed(seed + 1)) + orders() * 2
    return [line for line in text if line] + sentences(phrases, seed)


def unlike(sentences: list[str], folder: Path) -> list[str]:
    """Sentences that share no four words in a row with the narrations of a folder, so that one may measure
    on them.

    What the number grammar makes by itself (all of a sentence's words are numbers, units or letters) stays.
    """
    rows = (
        json.loads(line) for path in sorted(folder.glob("*.jsonl")) for line in path.read_text().splitlines()
    )
    taken = {four for row in rows for four in _fours(in_words(row["text"])) if not set(four) <= NUMBER_WORDS}
    return [sentence for sentence in sentences if not taken & set(_fours(sentence))]


def _fours(sentence: str) -> list[tuple[str, ...]]:
    words = sentence.split()
    return [tuple(words[i : i + 4]) for i in range(max(1, len(words) - 3))]
