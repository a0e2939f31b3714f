"""Correcting by voice: the new value put in the place of the last one of its kind."""

from __future__ import annotations

from narrator.language import Reader
from narrator.values import (
    Entity,
    Fastener,
    Measurement,
    Odometer,
    PartNumber,
    Price,
    TroubleCode,
    Utterance,
    Vin,
)

_VALUES = (Fastener, Odometer, PartNumber, Price, TroubleCode, Vin)


def mended(said: str, new: str) -> str:
    """``said`` with its last value replaced by ``new``; all of it when there is no value to replace.

    A reading takes the place of a reading of the same quantity, a fastener that of a fastener, and so on.
    A bare number takes the place of the last number and leaves its unit.
    """
    reader = Reader(use_model=False)
    old_row, new_row = reader.read([Utterance(1, 0.0, 1.0, said), Utterance(2, 1.0, 2.0, new)])
    for wanted in new_row.entities:
        alike = [one for one in old_row.entities if _same_kind(one, wanted)]
        if alike:
            span = alike[-1].span
            return said[: span[0]] + new[wanted.span[0] : wanted.span[1]] + said[span[1] :]
    words = said.split()
    if _is_number(new) and (at := [i for i, word in enumerate(words) if _is_number(word)]):
        first = last = at[-1]
        while first - 1 in at:
            first -= 1
        return " ".join([*words[:first], new, *words[last + 1 :]])
    return new


def _same_kind(old: Entity, new: Entity) -> bool:
    if isinstance(old, Measurement) and isinstance(new, Measurement):
        return new.unit_said and old.quantity == new.quantity
    return type(old) is type(new) and isinstance(new, _VALUES)


_NUMBERS = set(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen"
    " seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred thousand"
    " point oh".split()
)


def _is_number(text: str) -> bool:
    """Whether it is made of number words or digits only."""
    words = text.lower().replace("-", " ").strip(".,;").split()
    return bool(words) and all(w in _NUMBERS or w.strip(".,;").replace(".", "", 1).isdigit() for w in words)
