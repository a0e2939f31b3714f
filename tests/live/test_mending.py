from __future__ import annotations

import pytest

from narrator.job.record import (
    FastenerRow,
    HypothesisRow,
    MeasurementRow,
    OpenItemRow,
    Record,
    SizeRow,
    VehicleRow,
)
from narrator.live.answers import answer, understanding
from narrator.live.deeds import vehicle_as_written
from narrator.live.mending import mended


@pytest.mark.parametrize(
    ("said", "new", "want"),
    [
        ("battery voltage is twelve point four volts", "twelve point six volts",
         "battery voltage is twelve point six volts"),
        ("torque the caliper bolts to eighty foot pounds", "ninety five foot pounds",
         "torque the caliper bolts to ninety five foot pounds"),
        ("two ten mil bolts come off", "three ten mil bolts", "three ten mil bolts come off"),
        ("battery is at 12.4 volts cranking", "9.6", "battery is at 9.6 volts cranking"),
        ("resting voltage twelve point four", "twelve point two", "resting voltage twelve point two"),
        ("part number K T 4 2 1 7", "part number K T 4 2 1 8", "part number K T 4 2 1 8"),
        ("the strap is loose", "the ground strap is broken", "the ground strap is broken"),
        ("code P0420 is back", "P0430", "code P0430 is back"),
    ],
)  # fmt: skip
def test_the_new_value_takes_the_place_of_the_last_of_its_kind(said: str, new: str, want: str) -> None:
    assert mended(said, new) == want


RECORD = Record(
    rules="t",
    vehicle=VehicleRow(),
    utterances=[],
    tests=[],
    corrections=[],
    verifications=[],
    parts=[],
    hypotheses=[
        HypothesisRow(
            id="H1", statement="alternator weak", component="alternator", status="open", history=[]
        ),
        HypothesisRow(
            id="H2",
            statement="the strap is corroded, that is the cause",
            component="strap",
            fault="corroded",
            status="confirmed",
            history=[],
        ),
        HypothesisRow(
            id="H3", statement="it is the alternator again", component="alternator", status="open", history=[]
        ),
    ],
    fasteners=[
        FastenerRow(
            kind="bolt", size=SizeRow(value=10, unit="mm"), location="air box", removed=4, installed=2
        ),
        FastenerRow(kind="nut", removed=1, installed=1),
    ],
    measurements=[
        MeasurementRow(quantity="torque", value=95, unit="ft.lbf", component="caliper bolt", utterance=1),
        MeasurementRow(
            quantity="voltage",
            value=12.6,
            unit="V",
            component="battery",
            utterance=2,
            condition="everything off",
        ),
    ],
    open_items=[OpenItemRow(text="bleed the rear", utterance=3)],
)
EMPTY = RECORD.model_copy(
    update={name: [] for name in ("hypotheses", "fasteners", "measurements", "open_items")}
)


@pytest.mark.parametrize(
    ("name", "said", "nothing"),
    [
        (
            "last_reading",
            "Last reading: battery, voltage 12.6 volts, everything off.",
            "No reading was noted yet.",
        ),
        ("last_torque", "Last torque: caliper bolt, torque 95 foot pounds.", "No torque was noted yet."),
        ("open_fasteners", "Still off: 2 bolts 10 mm, air box.", "No fastener is off, as far as was said."),
        (
            "still_open",
            "Suspects open: alternator. To do: bleed the rear.",
            "No suspect is open. Nothing is noted as still to do.",
        ),
        (
            "summary",
            "0 remarks. Confirmed: strap, corroded. Open: alternator. 2 fasteners off.",
            "0 remarks. No cause is confirmed. 0 fasteners off.",
        ),
        ("help", "Say this.", "Say this."),
    ],
)
def test_answers_come_from_the_record_alone(name: str, said: str, nothing: str) -> None:
    assert answer(name, RECORD, "Say this.") == said  # type: ignore[arg-type]
    assert answer(name, EMPTY, "Say this.") == nothing  # type: ignore[arg-type]


def test_the_screen_shows_what_is_open() -> None:
    shown = understanding(RECORD)
    assert shown.suspects == ("alternator",)
    assert shown.off == ("2 bolts 10 mm, air box",)


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("two thousand nine Ardenna Volo", "2009 Ardenna Volo"),
        ("2009 ardenna volo", "2009 Ardenna Volo"),
        ("the brown farm trailer", "the brown farm trailer"),
        ("", ""),
    ],
)
def test_a_job_is_begun_with_its_vehicle(said: str, written: str) -> None:
    assert vehicle_as_written(said) == written
