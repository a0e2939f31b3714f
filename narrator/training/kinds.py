"""Kinds to group jobs by: the system a component belongs to, the symptoms that a concern tells."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from functools import cache

from narrator.job.record import Record
from narrator.language.vocabulary import groups
from narrator.paths import GRAMMARS

OTHER = "other"
_UNSAID = {"general", "more"}
"""Groups of the vocabulary that are no system."""


@cache
def _systems() -> dict[str, str]:
    """Every known component name with its system: the second word of its group's id (docs/vocabulary.md)."""
    found: dict[str, str] = {}
    for kind, group in groups():
        if kind == "component":
            system = group["id"].split(".")[1]
            names = re.split(r"[,\n]", group["words"])
            for name in filter(None, map(str.strip, names)):
                found.setdefault(name, OTHER if system in _UNSAID else system)
    return found


@cache
def system_of(component: str) -> str:
    """The system of a component: of its whole name, else of the longest end of it that is known."""
    words = component.split()
    for start in range(len(words)):
        if system := _systems().get(" ".join(words[start:])):
            return system
    return OTHER


def system_names() -> list[str]:
    """Every system that a component can belong to."""
    return sorted({*_systems().values(), OTHER})


@cache
def _symptoms() -> tuple[tuple[str, re.Pattern[str]], ...]:
    rows = tomllib.loads((GRAMMARS / "symptoms.toml").read_text(encoding="utf-8"))["symptom"]
    return tuple((row["name"], re.compile(rf"\b(?:{'|'.join(row['any'])})\b")) for row in rows)


def symptom_names() -> list[str]:
    """Every kind of symptom, in the order of the grammar."""
    return [name for name, _ in _symptoms()]


def symptoms_in(text: str) -> list[str]:
    """The kinds of symptom that a text tells."""
    return [name for name, pattern in _symptoms() if pattern.search(text.lower())]


def symptoms(record: Record) -> list[tuple[str, int]]:
    """The kinds of symptom of a job with the first line that tells each; only concerns count."""
    first: dict[str, int] = {}
    for row in record.utterances:
        if "concern" in row.acts and not row.struck:
            for name in symptoms_in(row.clean):
                first.setdefault(name, row.id)
    return list(first.items())


def named_components(record: Record) -> Iterable[str]:
    """Components that any line names, each once, in the order first named."""
    return dict.fromkeys(
        str(entity["name"])
        for row in record.utterances
        if not row.struck
        for entity in row.entities
        if entity.get("type") == "component" and entity.get("name")
    )


def named_codes(record: Record) -> Iterable[str]:
    """Trouble codes that any line names, each once."""
    return dict.fromkeys(
        str(entity["code"])
        for row in record.utterances
        if not row.struck
        for entity in row.entities
        if entity.get("type") == "dtc" and entity.get("code")
    )
