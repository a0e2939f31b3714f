"""A line whose number is out of order is read at its place, and goes by its own number in the record."""

from __future__ import annotations

from dataclasses import replace

from narrator.explain import explain
from narrator.job.compile import compile_record
from narrator.job.record import Record
from narrator.language import Reader
from narrator.values import Utterance

SAID = (
    "twenty eleven torvane linnet ninety thousand miles",
    "could be the battery or the ground strap",
    "two ten mil bolts come off the ground strap",
    "the ground strap is corroded that is the cause",
    "new ground strap on",
    "two ten mil bolts back on the ground strap",
    "it cranks every time now",
)
OWN = (1, 2, 3, 4, 5, 7, 6)
"""The bolts that went back were added last."""


def compiled(numbers: tuple[int, ...]) -> Record:
    lines = [
        Utterance(n, i * 6.0, i * 6.0 + 5, text)
        for i, (n, text) in enumerate(zip(numbers, SAID, strict=True))
    ]
    return compile_record(Reader().read(lines), rules="")


def renumbered(record: Record, to: dict[int, int]) -> str:
    text = record.model_dump()
    for row in text["utterances"]:
        row["id"] = to[row["id"]]

    def walk(value):  # type: ignore[no-untyped-def]
        if isinstance(value, dict):
            for key, one in value.items():
                if key == "utterance":
                    value[key] = to[one]
                elif key == "utterances" and all(isinstance(n, int) for n in one):
                    value[key] = [to[n] for n in one]
                else:
                    walk(one)
        elif isinstance(value, list):
            for one in value:
                walk(one)

    walk(text)
    return Record.model_validate(text).model_dump_json()


def test_the_record_is_that_of_lines_numbered_in_order() -> None:
    in_order, out_of_order = compiled(tuple(range(1, 8))), compiled(OWN)
    assert [(f.removed, f.installed, f.utterances) for f in out_of_order.fasteners] == [(2, 2, [3, 7])]
    assert [row.id for row in out_of_order.utterances] == list(OWN)
    assert out_of_order.model_dump_json() == renumbered(in_order, dict(zip(range(1, 8), OWN, strict=True)))


def test_lines_that_rise_are_left_as_they_are() -> None:
    spread = compiled((1, 2, 3, 4, 5, 6, 70))
    assert [row.id for row in spread.utterances][-1] == 70 and spread.verifications[0].utterances == [70]


def test_it_is_explained_by_its_own_number() -> None:
    lines = [
        Utterance(n, i * 6.0, i * 6.0 + 5, text) for i, (n, text) in enumerate(zip(OWN, SAID, strict=True))
    ]
    found = explain(lines, only=7, weights=False)
    assert [row["text"] for row in found["utterances"]] == [SAID[5]]
    (bolts,) = [v for v in found["values"] if v["list"] == "fasteners"]
    assert [(m["utterance"], m["words"]) for m in bolts["from"]] == [(3, SAID[2]), (7, SAID[5])]
    whole = explain([replace(one, id=n) for n, one in enumerate(lines, start=1)], weights=False)
    assert len(whole["values"]) == len(explain(lines, weights=False)["values"])
