"""Every rule of what is taken out for teaching does what its example says, and nothing else."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from narrator.paths import GRAMMARS
from narrator.training.teaching import Cleaner, names_told, teaching_record
from tests.training.example import example

DATA = tomllib.loads((GRAMMARS / "teaching.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("row", DATA["rule"], ids=lambda row: row["id"])
def test_what_goes(row: dict[str, Any]) -> None:
    cleaner = Cleaner(())
    assert cleaner.text(row["example"]) == row["clean"]
    assert cleaner.text(row["not"]) == row["not"]
    assert (cleaner.tells(row["example"]), cleaner.tells(row["not"])) == (True, False)


@pytest.mark.parametrize("row", DATA["name"], ids=lambda row: row["id"])
def test_names_that_the_job_tells(row: dict[str, Any]) -> None:
    assert Cleaner(names_told([row["example"]])).text(row["example"]) == row["clean"]
    assert names_told([row["not"]]) == []


@pytest.mark.parametrize(("text", "clean"), [
    ("plate's BZ fourteen kay ex pee", "plate's [plate]"),
    ("Plate's bz 14 km ex pee", "Plate's [plate]"),
    ("registration is double u seven four h k", "registration is [plate]"),
    ("a vin plate and 4 bolts", "a vin plate and 4 bolts"),
    ("the swash plate is 2 mm thick", "the swash plate is 2 mm thick"),
    ("part number five five seven three two nine one", "part number five five seven three two nine one"),
    ("two bolts at the top and one at the bottom", "two bolts at the top and one at the bottom"),
    ("invoice to number 12 old mill lane today", "invoice to [address] today"),
    ("it drifts out of lane at 60", "it drifts out of lane at 60"),
    ("fifty five mile an hour down the lane", "fifty five mile an hour down the lane"),
    ("torque one hundred ten twenty thirty", "torque one hundred ten twenty thirty"),
])  # fmt: skip
def test_lines(text: str, clean: str) -> None:
    assert Cleaner(()).text(text) == clean


def test_a_part_of_a_name_goes_too() -> None:
    cleaner = Cleaner(["Bert Malone", "Li"])
    assert cleaner.text("hi bert, malone and li") == "hi [person 1], [person 1] and [person 2]"
    assert cleaner.person("Bert Malone") == "[person 1]"


def test_what_was_read_from_a_telling_line_goes() -> None:
    said = "plate is b z one four k x p"
    entity = {"type": "measurement", "quantity": "length", "value": 14.0, "unit": "km"}
    rows = [
        u.model_copy(update={"text": said, "clean": "plate is bz 14 kxp", "entities": [entity]})
        if u.id == 1
        else u
        for u in example().utterances
    ]
    reading = {"quantity": "length", "value": 14.0, "unit": "km", "utterance": 1}
    other = {"quantity": "length", "value": 3.0, "unit": "mm", "utterance": 2}
    record = example(measurements=[reading, other]).model_copy(update={"utterances": rows})
    kept = teaching_record(record, [])
    assert [m["utterance"] for m in kept["measurements"]] == [2]
    assert kept["utterances"][0]["entities"] == []
    assert kept["utterances"][0]["clean"] == "plate is [plate]"
