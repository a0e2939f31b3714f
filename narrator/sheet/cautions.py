"""Usual cautions by topic (grammars/cautions.toml): which topics a job touched, and where it first did."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache

from pydantic import TypeAdapter

from narrator.job.record import Record
from narrator.paths import GRAMMARS


@dataclass(frozen=True, slots=True)
class Caution:
    """One topic: the line to print, the authority it defers to, and what raises it."""

    id: str
    topic: str
    line: str
    authority: str
    seen: str
    words: tuple[str, ...]
    unless: tuple[str, ...]
    yes: str
    no: str

    def raised_by(self, text: str) -> str | None:
        """The phrase of ``text`` that raises the topic, or None."""
        text = text.lower()
        if self.unless:
            text = _any_of(self.unless).sub(" ", text)
        found = _any_of(self.words).search(text)
        return found.group() if found else None


@dataclass(frozen=True, slots=True)
class Raised:
    """A caution, the phrase that raised it, and the utterance where it was first said."""

    caution: Caution
    phrase: str
    utterance: int


@cache
def _any_of(phrases: tuple[str, ...]) -> re.Pattern[str]:
    longest_first = sorted(phrases, key=len, reverse=True)
    spaced = (re.escape(phrase).replace(r"\ ", r"[\s-]+") for phrase in longest_first)
    return re.compile(rf"(?<!\w)(?:{'|'.join(spaced)})s?(?!\w)")


@cache
def cautions() -> tuple[Caution, ...]:
    """Every topic, in the order of the file."""
    rows = tomllib.loads((GRAMMARS / "cautions.toml").read_text(encoding="utf-8"))["caution"]
    return TypeAdapter(tuple[Caution, ...]).validate_python(rows)


def raised(record: Record) -> list[Raised]:
    """The cautions whose topic the job touched, each with its first mention; asides are not read."""
    found: dict[str, Raised] = {}
    for row in record.utterances:
        if row.acts == ["aside"] or row.struck:
            continue
        named = " . ".join(str(e.get("name", "")) for e in row.entities)
        text = f"{row.clean or row.corrected or row.text} . {named}"
        for caution in cautions():
            if caution.id not in found and (phrase := caution.raised_by(text)):
                found[caution.id] = Raised(caution, phrase, row.id)
    return [found[caution.id] for caution in cautions() if caution.id in found]
