"""What fasteners are called, what is no fastener though it sounds like one, and a phrase being read."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.phrases import Phrases
from narrator.values import Size

_TABLE = load("fasteners")
KINDS = Phrases((word, (row["kind"], row["id"])) for row in _TABLE["kind"] for word in row["words"])
_NEEDS = {row["kind"]: frozenset(row["needs"]) for row in _TABLE["kind"] if "needs" in row}
_AFTER = frozenset(_TABLE["after"][0]["words"])
_BEFORE: dict[str, list[str]] = _TABLE["before"][0]["only"]
_VERB = frozenset(_TABLE["verb"][0]["words"])
_VERB_BEFORE = frozenset(_TABLE["verb"][0]["before"])
ADJECTIVES = frozenset(_TABLE["adjective"][0]["words"])
COUNTS: dict[str, int] = _TABLE["count"][0]["values"]
DRIVES = Phrases((word, row["drive"]) for row in _TABLE["drive"] for word in row["words"])
STOP = frozenset(_TABLE["stop"][0]["words"].split())
MM = frozenset(form for unit in load("units")["unit"] if unit["symbol"] == "mm" for form in unit["forms"])
INCH = frozenset(("inch", "in", "inches"))
PIPES = frozenset(_TABLE["pipes"][0]["words"])
THREAD = re.compile(r"m(\d{1,2})(?:x[\d.]+)?", re.ASCII)
TORX_CODE = re.compile(r"t(?:x)?(\d{1,2})", re.ASCII)
POINTING = frozenset(
    ("the", "that", "this", "those", "these", "my", "his", "her", "its", "your", "each", "every")
)
IS = frozenset(("is", "are", "'s", "was", "were"))
GOING_ON = frozenset(_TABLE["apart"][0]["going_on"])
"""Words of a refit: a bare number beside them may be a torque."""
WITH_HEADS = frozenset(("bolts", "nuts"))
"""Those that a number before them may tell the head's size of."""
UNKNOWN_MOST = 3
_ON_WHEELS = frozenset(("wheel", "wheels", "tire", "tires", "tyre", "tyres", "rim", "rims", "hub"))
_DOER = frozenset(("and", "i", "then", "we", "you", "to", "just"))
_NOT_CRAZY = frozenset(("is", "'s", "goes", "going", "go", "me", "went", "drives", "gone"))


@dataclass(slots=True)
class Phrase:
    """What reading leftwards from the noun at ``noun`` has found so far."""

    noun: tuple[int, int]
    plural: bool
    count: int | None = None
    count_at: int | None = None
    size: Size | None = None
    drive: str | None = None
    new: bool = False
    said: bool = False
    start: int = 0
    tight: int = 0
    unknown: list[int] = field(default_factory=list)
    other: str = ""


def is_plural(word: str) -> bool:
    """Whether a noun of the table stands for several."""
    return word.endswith("s") and not word.endswith("ss")


def excluded(notes: Notes, start: int, end: int, kind: str) -> bool:
    """Whether the words around a fastener's name make it a verb, a tool or another part."""
    words = notes.words
    word = words[start]
    before = words[start - 1] if start and start not in notes.marks else ""
    after = words[end] if end < len(words) and end not in notes.marks else ""
    if after in _AFTER or word in _BEFORE.get(before, ()):
        return True
    if words[max(0, start - 2) : start] in (["as", "a"], ["like", "a"]) or (
        before == "tough" and word == "nut"
    ):
        return True  # "sweet as a nut"
    if word == "screw" and after in ("out", "in", "off", "up", "down") and before in _DOER:
        return True  # "drain it and screw out the old switch"
    if before == "no" and start > 1 and words[start - 2] in IS:
        return True  # "there was no clip on it"
    if word == "nuts" and before in _NOT_CRAZY:
        return True
    plain = before not in COUNTS and before not in ADJECTIVES and before not in ("the", "that", "this", "one")
    told = after == "that" and words[end + 1 : end + 2] in (["is"], ["'s"])  # "split pin that's mostly rust"
    verb = end == start + 1 and not is_plural(word) and after in _VERB and not told
    if verb and (not before or (plain and before in STOP | _VERB_BEFORE)):
        return True
    if word in ("lug", "lugs") and _ON_WHEELS.isdisjoint(words):
        return True  # a cable's lug is no nut
    if (
        is_plural(word)
        and after in ("onto", "into", "in")
        and before in ("it", "that", "which", "just", "and")
    ):
        return before != "and"
    return False


def is_doubtful(notes: Notes, start: int, kind: str, counted: bool) -> bool:
    """Whether a name needs more to be a fastener's (*the clamp* may be a clamp meter's or a welder's)."""
    needs, words = _NEEDS.get(kind), notes.words
    if needs is None or is_plural(words[start]) or words[start] != kind or counted:
        return False
    before = words[start - 1] if start and start not in notes.marks else ""
    return before not in needs and before not in MM and PIPES.isdisjoint(words)


DRIVE_RULE = {row["drive"]: row["id"] for row in reversed(_TABLE["drive"])}
