"""What a number without a unit measures, by the model."""

from __future__ import annotations

import json

import pytest

from narrator.language import likeliest, supply
from narrator.language.reader import Reader
from narrator.values import Measurement, Utterance

TALK = (
    "she boils over in traffic",
    "coolant is eighty eight degrees celsius at the housing",
    "idled it twenty minutes and the needle says a hundred and four",
)


def read(*lines: str) -> list[list[tuple[str, float, str | None]]]:
    said = [Utterance(n, float(n), n + 1.0, text) for n, text in enumerate(lines, start=1)]
    return [
        [
            (e.quantity, e.value, e.unit)
            for e in line.entities
            if isinstance(e, Measurement) and e.quantity != "time"
        ]
        for line in Reader().read(said)
    ]


def test_a_number_is_what_the_session_measures() -> None:
    assert read(*TALK)[2] == [("temperature", 104, "Cel")]


def test_a_small_number_that_no_word_makes_a_reading_is_none() -> None:
    lines = ("nine point four volts on pin two", "at the connector i've got nine point two volts on three")
    assert read(*lines)[1] == [("voltage", 9.2, "V")]


def test_without_a_model_the_rules_decide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(likeliest, "_model", lambda: None)
    monkeypatch.setattr(supply, "likeliest", lambda *_: pytest.fail("the model was asked"))
    assert read("battery is at twelve point four volts", "and with the lamps on eleven nine")[1]


def test_the_model_as_shipped_is_whole() -> None:
    table = json.loads((likeliest.FOLDER / "unsaid.json").read_text(encoding="utf-8"))
    assert {"bias", "own", "nothing", "best cost", "usual", "value"} <= set(table["weights"])
    assert {len(row) for row in table["usual"].values()} == {likeliest.BINS}
    assert {"voltage V", "road mph", "speed rpm", "temperature Cel"} <= set(table["usual"])


def test_values_of_a_unit_are_likelier_where_they_are_usual() -> None:
    usual = json.loads((likeliest.FOLDER / "unsaid.json").read_text(encoding="utf-8"))["usual"]
    twelve, thousand = likeliest.column(12.4), likeliest.column(1500.0)
    assert usual["voltage V"][twelve] > 0 > usual["voltage V"][thousand]
    assert usual["speed rpm"][thousand] > 0 > usual["speed rpm"][twelve]
    assert [likeliest.column(v) for v in (1e-9, 1.0, 1e9)] == [0, 40, likeliest.BINS - 1]
