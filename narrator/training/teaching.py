"""A job for teaching: names, plates, VINs and numbers of people taken out before anything is given away.

What is removed is replaced by a mark in square brackets, the same mark for the same name within one job, so
that a reader still follows who said what. Names are those of the speakers and those that are given; a plate
is what stands after a word for it. Removal by rules is no promise: read what you give away.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from typing import Any

from narrator.job.record import Record

_LETTERS = (
    "alpha alfa bravo charlie delta echo foxtrot golf hotel india juliet juliett kilo lima mike november"
    " oscar papa quebec romeo sierra tango uniform victor whiskey xray yankee zulu"
)
_DIGITS = "zero oh one two three four five six seven eight nine niner double triple"
_ONE = "|".join((*_LETTERS.split(), *_DIGITS.split()))
_SAID = rf"(?:(?:{_ONE}|x ray|[a-z]|\d+|(?=\w*\d)\w+)\b[ ,-]*)"
_PLATE = r"number plate|licen[cs]e plate|plates?|tag number|registration number|registration|reg number|rego?"
_WRITTEN = r"(?=\w*\d)(?=\w*[a-z])\w{4,}"
"""A plate as one word, as the readable text has it."""
_RULES: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("VIN", re.compile(r"\b(?=\w*\d)(?=\w*[a-z])[a-hj-npr-z\d]{17}\b", re.IGNORECASE)),
    (
        "VIN",
        re.compile(rf"(?P<lead>\b(?:vin|v i n)(?: number)?(?: is| reads)? ){_SAID}{{5,}}", re.IGNORECASE),
    ),
    (
        "plate",
        re.compile(
            rf"(?P<lead>\b(?:{_PLATE})(?: is| reads| says)? )(?:{_SAID}{{3,}}|{_WRITTEN})", re.IGNORECASE
        ),
    ),
    (
        "number",
        re.compile(rf"\b{_SAID}{{8,}}", re.IGNORECASE),
    ),  # spelled out, whatever the word before it was
    ("mail", re.compile(r"\b[\w.+-]+@[\w-]+\.[\w.]+\b")),
    ("phone", re.compile(r"\+?\d[\d ()-]{7,}\d\b")),
)


class Cleaner:
    """Takes what tells who out of the texts of one job."""

    def __init__(self, names: Iterable[str]) -> None:
        known = sorted({name.strip() for name in names if name and name.strip()}, key=lambda n: (-len(n), n))
        self._alias = {name.lower(): f"[person {n}]" for n, name in enumerate(sorted(known), start=1)}
        self._names = (
            re.compile(rf"\b(?:{'|'.join(map(re.escape, known))})\b", re.IGNORECASE) if known else None
        )

    def text(self, text: str) -> str:
        """A text with marks in place of what was taken out."""
        for mark, pattern in _RULES:
            text = pattern.sub(partial(_marked, mark), text)
        if self._names:
            text = self._names.sub(lambda m: self._alias[m[0].lower()], text)
        return text

    def person(self, name: str) -> str:
        """The mark of a person."""
        return self._alias.get(name.lower(), "[person]")


def _marked(mark: str, match: re.Match[str]) -> str:
    lead = match.groupdict().get("lead") or ""
    tail = " " if match[0].endswith(" ") else ""
    return f"{lead}[{mark}]{tail}"


def teaching_record(record: Record, speakers: Iterable[str], names: Iterable[str] = ()) -> dict[str, Any]:
    """A record as JSON values with every text cleaned.

    VIN entities, spans (they would count letters of what was said) and heard slips go; year, make and model
    stay, since a lesson needs them.
    """
    cleaner = Cleaner([*speakers, *names])
    kept: dict[str, Any] = _cleaned(record.model_dump(mode="json"), cleaner)
    kept["vehicle"] |= {"vin": None, "vin_check": None}
    for row in kept["utterances"]:
        row["entities"] = [e for e in row["entities"] if e.get("type") != "vin"]
        row["repairs"] = []
    return kept


def _cleaned(value: Any, cleaner: Cleaner) -> Any:
    if isinstance(value, str):
        return cleaner.text(value)
    if isinstance(value, list):
        return [_cleaned(one, cleaner) for one in value]
    if isinstance(value, dict):
        return {key: _cleaned(one, cleaner) for key, one in value.items() if key != "span"}
    return value
