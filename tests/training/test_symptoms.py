"""Every kind of symptom matches its example and not the other."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from narrator.paths import GRAMMARS
from narrator.training.kinds import symptoms_in

ROWS = tomllib.loads((GRAMMARS / "symptoms.toml").read_text(encoding="utf-8"))["symptom"]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_examples(row: dict[str, Any]) -> None:
    assert row["name"] in symptoms_in(row["example"])
    assert row["name"] not in symptoms_in(row["not"])
