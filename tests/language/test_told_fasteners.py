"""Fasteners that the network tells from the words around them; its word is given here."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.language.act_network import AMOUNTS, KINDS, ROLES, Told
from narrator.language.pipeline import workspaces
from narrator.language.tokens import Notes
from narrator.language.told_fasteners import complete, sure_kind
from narrator.values import Component, Fastener, Size


def told(text: str, roles: dict[str, str], kind: str) -> Notes:
    """A line of which the network says what some words tell of fasteners, and of which kind they are."""
    notes = workspaces([text])[0]
    words = [(i, roles.get(word, "nothing")) for i, word in enumerate(notes.words)]
    table = np.zeros((len(words), len(ROLES)), np.float32)
    for i, role in words:
        table[i, ROLES.index(role)] = 1.0
    kinds = np.zeros((len(words), len(KINDS)), np.float32)
    kinds[:, KINDS.index(kind)] = 0.9
    amounts = np.zeros((len(words), len(AMOUNTS)), np.float32)
    notes.scratch["told"] = Told(
        [(0.0, 0.0)] * len(words),
        amounts,
        table,
        kinds,
        table.argmax(axis=1).tolist(),
        (1 - table[:, 0]).tolist(),
    )
    return notes


def fasteners(notes: Notes) -> list[tuple[str, int | None, Size | None]]:
    """Kind, number and size of each fastener."""
    return [(e.kind, e.count, e.size) for e in notes.entities if isinstance(e, Fastener)]


@pytest.mark.parametrize(
    ("text", "roles", "kind", "found"),
    [
        (
            "lid has four pozzies round it",
            {"four": "count", "pozzies": "name"}, "screw", ("screw", 4, None),
        ),
        (
            "tray out three more thirteens from under it",
            {"three": "count", "more": "count", "thirteens": "size"}, "bolt", ("bolt", 3, Size(13, "mm")),
        ),
        (
            "castle nut off a seventeen and the taper lets go",
            {"castle": "name", "nut": "name", "seventeen": "size"}, "nut", ("nut", 1, Size(17, "mm")),
        ),
        (
            "both unions done up at the cooler",
            {"both": "count", "unions": "name"}, "nut", ("nut", 2, None),
        ),
    ],
)  # fmt: skip
def test_what_the_words_around_tell(
    text: str, roles: dict[str, str], kind: str, found: tuple[str, int, Size | None]
) -> None:
    notes = told(text, roles, kind)
    complete(notes, ())
    assert fasteners(notes) == [found]


def test_nothing_is_entered_where_the_network_is_not_sure() -> None:
    notes = told("lid has four pozzies round it", {}, "screw")
    complete(notes, ())
    assert not fasteners(notes)


def test_a_noun_that_names_a_part_of_the_job_stays_one() -> None:
    notes = told("new pin is in the caliper", {"new": "name", "pin": "name"}, "pin")
    complete(notes, {"slide pin"})
    assert not fasteners(notes)
    assert any(isinstance(e, Component) for e in notes.entities)


def test_the_kind_of_a_bare_size_needs_more_against_what_the_session_called_it() -> None:
    notes = told("both seventeens off the wheel", {"seventeens": "size"}, "nut")
    (bare,) = [e for e in notes.entities if isinstance(e, Fastener)]
    assert sure_kind(notes, bare, None) == "nut"
    assert sure_kind(notes, bare, "bolt") is None


def test_six_t_twenty_fives_are_no_year_of_a_vehicle() -> None:
    notes = workspaces(["filter lid has six t twenty fives round it"])[0]
    assert fasteners(notes) == [("screw", 6, Size(25.0, "T"))]
