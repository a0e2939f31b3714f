"""Parts said only to name a fastener: the record lists the fastener, not the part."""

from __future__ import annotations

import pytest

from narrator.values import Act
from tests.job.test_outcome import record


def parts(act: Act, text: str) -> list[str]:
    (row,) = record((act, text)).utterances
    return [e["name"] for e in row.entities if e["type"] == "component"]


@pytest.mark.parametrize(
    "text",
    [
        "a fresh hub nut on it",
        "gland nut undone with the chain wrench",
        "one seat bolt off",
        "the fork bolts to 85",
    ],
)
def test_a_part_that_only_names_its_fastener_is_not_listed(text: str) -> None:
    assert parts("step", text) == []


def test_a_suspect_is_listed() -> None:
    assert parts("hypothesis", "could be a loose subframe bolt") == ["subframe"]


def test_a_part_beside_a_fastener_is_listed() -> None:
    assert parts("step", "drum home and a fresh hub nut") == ["drum"]
    assert parts("step", "both rocker cover bolts out") == ["rocker cover"]
