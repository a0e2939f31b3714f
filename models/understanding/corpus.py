"""The annotated narrations and excerpts as training rows: words, accepted acts, and how each went on.

Everything here is read from ``narrations/``, ``excerpts/``, ``stories/``, ``strips/`` and ``unmarked/``
beside this file; all invented.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from models.understanding.narrations.markup import Line, parse_text

HERE = Path(__file__).resolve().parent


@dataclass(frozen=True, slots=True)
class Suspect:
    """Words by which an annotated suspect is known: one of each group, and none of ``bar``."""

    groups: tuple[tuple[str, ...], ...]
    bar: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Talk:
    """A run of lines said one after the other; ``whole`` marks a job told from beginning to end."""

    name: str
    lines: tuple[Line, ...]
    whole: bool
    phase: str = "before"
    spans: bool = True
    """Whether things are marked in its lines, not acts alone."""
    suspects: tuple[Suspect, ...] = ()
    things: bool = True
    """Whether components, tools and materials are marked too, not fasteners and readings alone."""


def narrations(folder: Path = HERE / "narrations") -> Iterator[Talk]:
    """Every whole job, in the order of file names."""
    for path in sorted(folder.glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        suspects = tuple(
            Suspect(tuple(tuple(k.split("|")) for k in row["keywords"]), tuple(row.get("not_keywords", ())))
            for row in table.get("hypotheses", ())
        )
        yield Talk(path.stem, tuple(parse_text(table["text"])), True, suspects=suspects)


def excerpts(folder: Path = HERE / "excerpts") -> Iterator[Talk]:
    """Every short run of lines, named by file and place."""
    for path in sorted(folder.glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for n, row in enumerate(table["excerpt"], start=1):
            yield Talk(f"{path.stem}.{n}", tuple(parse_text(row["text"])), False, row["phase"])


def stories(folder: Path = HERE / "stories") -> Iterator[Talk]:
    """Every job of which only the acts are written down, named by file and place."""
    for path in sorted(folder.glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for n, row in enumerate(table["story"], start=1):
            yield Talk(f"{path.stem}.{n}", tuple(parse_text(row["text"])), False, "start", spans=False)


def strips(folder: Path = HERE / "strips") -> Iterator[Talk]:
    """Every run of lines in which things come apart and go together, named by file and place."""
    for path in sorted(folder.glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for n, row in enumerate(table["strip"], start=1):
            yield Talk(f"{path.stem}.{n}", tuple(parse_text(row["text"])), False, things=False)


def unmarked(folder: Path = HERE / "unmarked") -> Iterator[tuple[str, list[str]]]:
    """Every job of which nothing but what was said is written down: its name and its lines."""
    for path in sorted(folder.glob("*.txt")):
        yield path.stem, [line for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
