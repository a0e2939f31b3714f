"""What the search page is asked: the fields of its address, and how they read in words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from urllib.parse import urlencode

from narrator.review.naming import Names
from narrator.store.finding import OUTCOMES, STATUS, Wanted
from narrator.training.kinds import system_names

LETTERS = 100
"""The longest condition."""
VERIFIED = ("pass", "fail")
CHOICES: dict[str, tuple[str, ...]] = {"ended": tuple(STATUS), "outcome": OUTCOMES, "verified": VERIFIED}
_READS = {
    "said": "said in one line: {}",
    "concern": "in the concern: {}",
    "suspected": "suspected: {}",
    "ended": "that suspect: {}",
    "confirmed": "settled cause: {}",
    "tested": "tested: {}",
    "outcome": "that test: {}",
    "fitted": "fitted: {}",
    "code": "code: {}",
    "no_code": "no code named",
    "verified": "last check: {}",
    "vehicle": "vehicle: {}",
    "system": "system: {}",
    "person": "person: {}",
    "since": "from {}",
    "until": "up to {}",
}
WORDS = {
    "open": "still open", "cleared": "cleared", "confirmed": "confirmed",
    "pass": "found good", "fail": "found bad", "inconclusive": "told nothing sure",
}  # fmt: skip
"""How a choice reads; the last check is told apart below."""
CHECKED = {"pass": "passed", "fail": "did not pass"}


@dataclass(frozen=True, slots=True)
class Asked:
    """One condition in words, and the address of the search without it."""

    words: str
    without: str


def read(given: Mapping[str, str], names: Names) -> tuple[Wanted, str]:
    """The search that an address asks for, and what is wrong with it: empty where nothing is."""
    found: dict[str, str] = {}
    wrong = ""
    for name in (f.name for f in fields(Wanted) if f.name != "no_code"):
        value = " ".join(given.get(name, "").replace("\x00", " ").split())[:LETTERS]
        if name in ("since", "until") and value and not _day(value):
            wrong = f"“{value}” is no day: write it as 2031-03-04."
        elif value and value not in (CHOICES | {"system": tuple(system_names())}).get(name, (value,)):
            wrong = f"There is no choice “{value}”."
        else:
            found[name] = value
    since, until = found.get("since", ""), found.get("until", "")
    if since and until and since > until:
        wrong = f"No day is from {since} on and up to {until}: the first day is later than the last."
    found["person"] = names.meant(found["person"])
    return Wanted(**found, no_code=bool(given.get("no_code"))), wrong


def _day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def address(wanted: Wanted, names: Names, **more: object) -> str:
    """The address of a search."""
    given = wanted.given()
    if "person" in given:
        given["person"] = names.shown(wanted.person)
    return "/search?" + urlencode({n: "yes" if v is True else v for n, v in (given | more).items()})


def in_words(wanted: Wanted, names: Names) -> list[Asked]:
    """Every condition of a search."""
    given = wanted.given()
    return [
        Asked(_READS[name].format(_value(name, str(value), names)),
              address(Wanted(**{n: v for n, v in given.items() if n != name}), names))
        for name, value in given.items()
    ]  # fmt: skip


def _value(name: str, value: str, names: Names) -> str:
    if name == "person":
        return names.shown(value)
    if name == "verified":
        return CHECKED.get(value, value)
    return WORDS.get(value, value) if name in CHOICES else names.text(value)


_WORD = re.compile(r"\w+")
_ENDINGS = re.compile(r"(?:ing|ed|es|s|y|ies)$")


def marked(text: str, wanted: Wanted) -> list[tuple[str, bool]]:
    """A line cut into pieces; those that begin like a word asked for are to be marked."""
    asked = " ".join((wanted.said, wanted.concern, wanted.suspected, wanted.confirmed, wanted.tested,
                      wanted.fitted))  # fmt: skip
    stems = tuple(_ENDINGS.sub("", word) or word for word in _WORD.findall(asked.lower()))
    pieces: list[tuple[str, bool]] = []
    at = 0
    for found in _WORD.finditer(text):
        word = found[0].lower()
        if any(word.startswith(stem) if len(stem) > 2 else word == stem for stem in stems):
            pieces += [(text[at : found.start()], False), (found[0], True)]
            at = found.end()
    return [piece for piece in (*pieces, (text[at:], False)) if piece[0]]
