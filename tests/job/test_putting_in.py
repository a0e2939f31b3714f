"""Parts that a line of work puts in without naming them in full."""

from __future__ import annotations

import pytest

from narrator.job.compile import compile_record
from narrator.job.line import Line
from narrator.job.putting_in import put_in
from narrator.job.record import PartRow
from narrator.language.pipeline import workspaces
from narrator.language.reader import Reader
from narrator.values import Understood, Utterance


def line(text: str) -> Line:
    notes = workspaces([text])[0]
    return Line(
        Understood(Utterance(1, 0.0, 1.0, text), text, tuple(notes.words), ("step",), tuple(notes.entities))
    )


def fitted(text: str, *names: str, ago: int = 1) -> list[str]:
    waiting = [(PartRow(name=name, state="received"), ago) for name in names]
    return [row.name for row in put_in(line(text), waiting)]


@pytest.mark.parametrize(
    ("text", "names", "want"),
    [
        ("new one in on the same three", ("relay",), ["relay"]),
        ("out with the old one in with the new one", ("relay",), ["relay"]),
        ("old bearing pressed out new one pressed in", ("bearing kit", "ball joint"), ["bearing kit"]),
        ("new kit in wet with brake fluid", ("seal kit",), ["seal kit"]),
        ("all four plugs in by hand", ("plug",), ["plug"]),
        ("that's on with two new clamps", ("hose",), ["hose"]),
        ("and in she goes", ("cradle",), ["cradle"]),
        ("cover on with three old bolts and a new one", ("relay",), []),
        ("old relay off two eight mil nuts", ("relay",), []),
        ("that's off with two clamps", ("hose",), []),
    ],
)
def test_parts_put_in(text: str, names: tuple[str, ...], want: list[str]) -> None:
    assert fitted(text, *names) == want


def test_it_is_only_a_part_told_just_before() -> None:
    assert not fitted("and in she goes", "cradle", ago=5)
    assert not fitted("new one in on the same three", "relay", ago=30)


def test_a_part_put_in_unnamed_is_fitted_and_replaced_on_the_record() -> None:
    told = (
        "the starter relay is dead so that's the cause",
        "starter relay is k t four two one seven forty eight dollars got it in stock",
        "old relay off two eight mil nuts",
        "new one on with the same two nuts",
    )
    said = [Utterance(n, float(n), n + 1.0, text) for n, text in enumerate(told, start=1)]
    record = compile_record(Reader().read(said))
    assert [(p.name, p.state) for p in record.parts] == [("starter relay", "fitted")]
    assert "replace" in [c.action for c in record.corrections]


def test_a_part_named_by_half_is_replaced_once() -> None:
    told = (
        "the lower slide pin is seized so that's the cause",
        "i need a slide pin kit part number k t four two one seven eighteen dollars",
        "new pin is in caliper back on with the two fourteen mil bolts",
    )
    said = [Utterance(n, float(n), n + 1.0, text) for n, text in enumerate(told, start=1)]
    record = compile_record(Reader().read(said))
    assert [(p.name, p.state) for p in record.parts] == [("slide pin kit", "fitted")]
    assert [c.component for c in record.corrections if c.action == "replace"] == ["slide pin kit"]
