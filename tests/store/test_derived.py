"""Derived tables follow the record, are replaced whole, and never hold back a session."""

from __future__ import annotations

import json
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.job.record import Record
from narrator.store import Reader, Writer
from narrator.store.flatten import DERIVED, flatten
from narrator.store.schema import migrations
from narrator.values import Correction
from tests.store.helpers import STARTED, facts_now, put, record_json

LOOK = {"look": "gap.1", "kind": "gap", "reason": "unplugged", "utterance": 1, "at": 0.5, "span_start": None,
        "span_end": None}  # fmt: skip
RECORD = {
    "vehicle": {
        "year": 2009,
        "make": "Ardenna",
        "model": "Volo",
        "vin": None,
        "odometer": {"value": 120400, "unit": "km"},
    },
    "utterances": [
        {
            "id": 1,
            "start": 0.5,
            "end": 2.25,
            "text": "the ground strap is loose",
            "clean": "The ground strap is loose.",
            "acts": ["observation", "hypothesis"],
            "entities": [{"type": "component", "name": "ground strap"}, {"type": "dtc", "code": "P0562"}],
        },
    ],
    "hypotheses": [
        {
            "id": "H1",
            "statement": "ground strap loose",
            "component": "ground strap",
            "fault": "loose",
            "status": "confirmed",
            "history": [{"status": "open", "utterance": 1}, {"status": "confirmed", "utterance": 3}],
            "evidence": [],
        }
    ],
    "tests": [
        {
            "id": "T1",
            "procedure": "voltage drop",
            "component": "ground strap",
            "result": "0.9 V",
            "outcome": "fail",
            "hypotheses": ["H1"],
            "utterances": [2, 3],
        }
    ],
    "corrections": [{"action": "replace", "component": "ground strap", "utterances": [3]}],
    "verifications": [{"text": "starts", "outcome": "pass", "utterances": [3]}],
    "fasteners": [
        {
            "kind": "bolt",
            "size": {"value": 10, "unit": "mm"},
            "drive": None,
            "location": "strap",
            "removed": 2,
            "installed": 1,
        }
    ],
    "parts": [
        {
            "name": "ground strap",
            "number": "AV-77",
            "price": {"amount": "12.00", "currency": "USD"},
            "state": "fitted",
        }
    ],
    "measurements": [
        {
            "quantity": "voltage",
            "value": 12,
            "unit": "V",
            "component": "battery",
            "condition": None,
            "utterance": 2,
            "role": "reading",
        }
    ],
    "open_items": [{"text": "grease the stud", "utterance": 3}],
}


def _all(home: Path, table: str) -> list[dict[str, object]]:
    with Reader(home) as reader:
        return list(reader._db.table(table).rows)


def test_every_list_becomes_rows(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        stored = writer.keep_record(ident, "t1", record_json(**RECORD), facts_now(home, ident), [LOOK])
    assert stored is not None
    found = {name: _all(home, name) for name in DERIVED}
    assert all(len(rows) == (2 if name == "acts" else 1) for name, rows in found.items()), found
    assert {row["rules"] for rows in found.values() for row in rows} == {"t1"}
    assert (
        found["hypotheses"][0] | {"first_utterance": 1, "last_utterance": 3, "status": "confirmed"}
        == found["hypotheses"][0]
    )
    assert (
        found["fasteners"][0] | {"size": 10.0, "unit": "mm", "removed": 2, "installed": 1}
        == found["fasteners"][0]
    )
    assert found["parts"][0] | {"amount": "12.00", "currency": "USD"} == found["parts"][0]
    assert json.loads(str(found["tests"][0]["hypotheses"])) == ["H1"]
    assert found["vehicles"][0] | {"odometer": 120400.0, "odometer_unit": "km"} == found["vehicles"][0]
    with Reader(home) as reader:
        assert reader.sessions()[0].vehicle == "2009 Ardenna Volo"


def test_columns_are_fields_of_the_record() -> None:
    """A field renamed in the record would silently become NULL here: compare the names."""
    fields = {
        name: set(Record.model_fields[name].annotation.__args__[0].model_fields)  # type: ignore[union-attr]
        for name in (
            "hypotheses",
            "tests",
            "fasteners",
            "parts",
            "measurements",
            "open_items",
            "verifications",
        )
    }
    made_here = {"first_utterance", "last_utterance", "unit", "amount", "currency"}
    for name, known in fields.items():
        assert set(DERIVED[name]) - made_here <= known, name


def test_a_new_record_replaces_the_old_one(home: Path) -> None:
    with Writer(home) as writer:
        ident, other = put(writer), put(writer)
        for one in (ident, other):
            writer.keep_record(one, "t1", record_json(**RECORD), facts_now(home, one))
        writer.keep_record(ident, "t2", record_json(), facts_now(home, ident))
    assert [row["session"] for row in _all(home, "parts")] == [other]
    with Reader(home) as reader:
        stored = reader.record(ident)
    assert stored is not None and stored.rules == "t2"


def test_a_record_of_older_facts_is_not_kept(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        seen = facts_now(home, ident)
        writer.add_correction(ident, Correction(1, "x", "Ana", STARTED))
        assert writer.keep_record(ident, "t1", record_json(), seen) is None
    with Reader(home) as reader:
        assert reader.record(ident) is None


def test_everything_derived_can_be_dropped(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        writer.keep_record(ident, "t1", record_json(**RECORD), facts_now(home, ident))
        writer.drop_records()
    assert not any(_all(home, name) for name in ("records", *DERIVED))
    assert migrations.name == "narrator"


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["id", "name", "value", "unit", "utterances", "history", "size", "type", "x"]),
            inner,
            max_size=4,
        )
    ),
    max_leaves=12,
)


@given(
    st.dictionaries(
        st.sampled_from(["vehicle", "utterances", "tests", "parts", "hypotheses", "fasteners"]), json_values
    )
)
@settings(max_examples=150)
def test_flattening_takes_any_json(record: dict[str, object]) -> None:
    for name, rows in flatten(record).items():
        for row in rows:
            assert row.keys() == DERIVED[name].keys()
            for column, value in row.items():
                assert value is None or type(value) is DERIVED[name][column]
