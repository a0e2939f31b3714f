"""A job for teaching: names, plates, VINs and numbers of people taken out before anything is given away.

What is removed is replaced by a mark in square brackets, the same mark for the same name within one job, so
that a reader still follows who said what. Names are those of the speakers, those that are given, and what
follows a title; ``grammars/teaching.toml`` holds the rules. Removal by rules is no promise: read what you
give away.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from typing import Any

from narrator.job.record import Record
from narrator.paths import GRAMMARS

_SAYS = frozenset(
    "a an and are as asked at but by came can did for from given had has he her him his if in is it not of on"
    " or our reckons said says she so that the their them then they thinks this to told unknown up wants was"
    " we were what when who will with you".split()
)
"""Words that follow a title or *name is* and are no name."""
_SHORTEST = 3
"""Letters from which a part of a name is taken out by itself."""


@dataclass(frozen=True, slots=True)
class Rules:
    """``taken``: mark and pattern of what goes after the group ``lead``; ``named``: patterns of names."""

    taken: tuple[tuple[str, re.Pattern[str]], ...]
    named: tuple[re.Pattern[str], ...]


@cache
def rules() -> Rules:
    """The rules of ``grammars/teaching.toml``."""
    data = tomllib.loads((GRAMMARS / "teaching.toml").read_text(encoding="utf-8"))
    letters, digits, numbers = ("|".join(data[name].split()) for name in ("letters", "digits", "figures"))
    figures = f"{digits}|{numbers}"
    single = rf"(?:(?:{letters}|{digits}|x ray|[a-z]|\d+|(?=\w*\d)\w+)\b[ ,-]*)"
    sign = rf"(?:(?:{letters}|{figures}|x ray|[a-z]|\d+|(?=\w*\d)\w+|[bcdfghjklmnpqrstvwxz]{{2,3}})\b[ ,-]*)"
    figure = rf"(?:(?:{figures}|\d+)\b[ ,-]*)"
    taken = []
    for row in data["rule"]:
        what = row["what"].replace("{sign}", sign).replace("{figure}", figure).replace("{single}", single)
        taken.append((row["mark"], re.compile(rf"(?P<lead>{row['lead']})(?:{what})", re.IGNORECASE)))
    named = (re.compile(rf"{row['lead']}(?P<name>[^\W\d_]{{2,}})", re.IGNORECASE) for row in data["name"])
    return Rules(tuple(taken), tuple(named))


def names_told(texts: Iterable[str]) -> list[str]:
    """Names that texts tell by a title or by *name is*, in lower case."""
    found = (
        match["name"].lower() for text in texts for rule in rules().named for match in rule.finditer(text)
    )
    return sorted({name for name in found if name not in _SAYS})


class Cleaner:
    """Takes what tells who out of the texts of one job."""

    def __init__(self, names: Iterable[str]) -> None:
        known = sorted({name.strip().lower() for name in names if name and name.strip()})
        self._alias = {name: f"[person {n}]" for n, name in enumerate(known, start=1)}
        for name in known:
            for part in re.findall(rf"[^\W\d_]{{{_SHORTEST},}}", name):
                self._alias.setdefault(part, self._alias[name])
        longest = sorted(self._alias, key=lambda name: (-len(name), name))
        self._names = (
            re.compile(rf"\b(?:{'|'.join(map(re.escape, longest))})\b", re.IGNORECASE) if longest else None
        )

    def text(self, text: str) -> str:
        """A text with marks in place of what was taken out."""
        text, _ = self._without_numbers(text)
        if self._names:
            text = self._names.sub(lambda m: self._alias[m[0].lower()], text)
        return text

    def tells(self, text: str) -> bool:
        """Whether a text holds a plate, VIN, address, phone number or mail address."""
        return self._without_numbers(text)[1] > 0

    def person(self, name: str) -> str:
        """The mark of a person."""
        return self._alias.get(name.lower(), "[person]")

    @staticmethod
    def _without_numbers(text: str) -> tuple[str, int]:
        count = 0
        for mark, pattern in rules().taken:
            text, more = pattern.subn(partial(_marked, mark), text)
            count += more
        return text, count


def _marked(mark: str, match: re.Match[str]) -> str:
    tail = " " if match[0].endswith(" ") else ""
    return f"{match['lead']}[{mark}]{tail}"


def cleaner_for(record: Record, speakers: Iterable[str], names: Iterable[str] = ()) -> Cleaner:
    """A cleaner that knows the speakers of a job, further names, and those that its lines tell."""
    texts = (text for row in record.utterances for text in (row.text, row.clean, row.corrected or ""))
    return Cleaner([*speakers, *names, *names_told(texts)])


def teaching_record(record: Record, speakers: Iterable[str], names: Iterable[str] = ()) -> dict[str, Any]:
    """A record as JSON values with every text cleaned.

    VIN entities, spans (they would count letters of what was said) and heard slips go; so does whatever was
    read from a line that holds a plate, a number or an address. Year, make and model stay, since a lesson
    needs them.
    """
    cleaner = cleaner_for(record, speakers, names)
    telling = set(_telling(record, cleaner))
    kept: dict[str, Any] = _cleaned(record.model_dump(mode="json"), cleaner)
    kept["vehicle"] |= {"vin": None, "vin_check": None}
    for row in kept["utterances"]:
        row["entities"] = [
            e for e in row["entities"]
            if e.get("type") != "vin" and (row["id"] not in telling or e.get("type") == "component")
        ]  # fmt: skip
        row["repairs"] = []
    kept["measurements"] = [row for row in kept["measurements"] if row["utterance"] not in telling]
    return kept


def _telling(record: Record, cleaner: Cleaner) -> Iterator[int]:
    for row in record.utterances:
        if any(cleaner.tells(text) for text in (row.text, row.clean, row.corrected or "")):
            yield row.id


def _cleaned(value: Any, cleaner: Cleaner) -> Any:
    if isinstance(value, str):
        return cleaner.text(value)
    if isinstance(value, list):
        return [_cleaned(one, cleaner) for one in value]
    if isinstance(value, dict):
        return {key: _cleaned(one, cleaner) for key, one in value.items() if key != "span"}
    return value
