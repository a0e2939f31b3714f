"""Lines whose numbers do not rise: one that a person added has the last number and stands in the middle.

The ledgers go by how many lines lie between two of them. They read such a session by place, and what they
made of it goes by its own numbers again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

from narrator.job.record import Record
from narrator.values import Understood

Given = dict[int, int]
"""The number by place to the line's own."""


def by_place(lines: Sequence[Understood]) -> tuple[list[Understood], Given]:
    """The lines numbered by place, with their own numbers; as they are, with none, where these rise."""
    if all(a.utterance.id < b.utterance.id for a, b in pairwise(lines)):
        return list(lines), {}
    return [
        replace(
            one,
            utterance=replace(one.utterance, id=n),
            looks=tuple(replace(k, utterance=n) for k in one.looks),
        )
        for n, one in enumerate(lines, start=1)
    ], {n: one.utterance.id for n, one in enumerate(lines, start=1)}


def by_own_number(record: Record, given: Given) -> Record:
    """The record of lines that were numbered by place, with each line's own number."""
    if not given:
        return record
    rows = [row.model_copy(update={"id": given[row.id]}) for row in record.utterances]
    rest = _renamed(record.model_dump(exclude={"utterances"}), given)
    return Record.model_validate({**rest, "utterances": rows})


def _renamed(value: Any, given: Given) -> Any:
    if isinstance(value, list):
        return [_renamed(one, given) for one in value]
    if not isinstance(value, dict):
        return value
    row = {key: _renamed(one, given) for key, one in value.items()}
    if isinstance(row.get("utterance"), int):
        row["utterance"] = given.get(row["utterance"], row["utterance"])
    if "utterances" in row:
        row["utterances"] = [given.get(number, number) for number in row["utterances"]]
    return row
