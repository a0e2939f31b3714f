"""Words of units are words of the trade."""

from __future__ import annotations

import pytest

from narrator.language.tables import load
from narrator.language.word_check import check_text


@pytest.mark.parametrize("unit", load("units")["unit"], ids=lambda unit: unit["id"])
def test_how_a_unit_is_said_is_known(unit: dict[str, list[str]]) -> None:
    for form in unit["forms"]:
        assert check_text(f"it reads twelve {form}").unknown == ()
