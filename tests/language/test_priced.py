"""Prices that only the network's view of a line tells."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.language.act_network import AMOUNTS, KINDS, ROLES, Told
from narrator.language.priced import price_by_network
from narrator.values import ACTS, Price
from tests.language.quantity_notation import session


def priced(text: str, part: float, nothing: float) -> list[str]:
    """The amounts found where the network takes the line for one of parts with this share."""
    notes = session([text])[0]
    count = len(notes.words)
    amounts = np.zeros((count, len(AMOUNTS)), np.float32)
    amounts[:, list(AMOUNTS).index("nothing")] = nothing
    notes.scratch["meaning"] = np.array([part if act == "part" else 0.0 for act in ACTS], np.float32)
    nothing_told = [np.zeros((count, len(some)), np.float32) for some in (ROLES, KINDS)]
    notes.scratch["told"] = Told([], amounts, *nothing_told, [], [])
    price_by_network(notes)
    return [str(e.amount) for e in notes.entities if isinstance(e, Price)]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("rotor is sixty four and she is getting it", ["64.00"]),
        ("battery is sixty two thousand and nobody has it", ["62000.00"]),
        ("copper ones for six fifty", ["6.50"]),
        ("i rang them at nine", []),
        ("it is number sixty four", []),
        ("there are sixty four bolts", []),
        ("that is from 2019", []),
    ],
)
def test_a_number_in_a_line_of_parts(text: str, wanted: list[str]) -> None:
    assert priced(text, 0.95, 0.95) == wanted


def test_not_where_it_is_no_line_of_parts_or_the_number_measures_something() -> None:
    assert priced("rotor is sixty four and she is getting it", 0.3, 0.95) == []
    assert priced("rotor is sixty four and she is getting it", 0.95, 0.1) == []
