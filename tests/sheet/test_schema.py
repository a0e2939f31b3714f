"""The published schema is the models' schema, and records keep to it."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from narrator.job.record import Record
from narrator.sheet.schema import schema_text
from tests.sheet import golden

PUBLISHED = Path(__file__).parents[2] / "docs" / "record.schema.json"


def test_published_schema_is_current() -> None:
    assert PUBLISHED.read_text(encoding="utf-8") == schema_text(), (
        "run: python -m narrator.sheet.schema docs/record.schema.json"
    )


@pytest.mark.parametrize(
    "record", [golden.record(), golden.empty(), golden.huge(100)], ids=["rich", "empty", "long"]
)
def test_records_keep_to_it(record: Record) -> None:
    schema = json.loads(PUBLISHED.read_text(encoding="utf-8"))
    validator = jsonschema.Draft202012Validator(schema)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert not list(validator.iter_errors(json.loads(record.model_dump_json())))


def test_it_refuses_what_is_no_record() -> None:
    schema = json.loads(PUBLISHED.read_text(encoding="utf-8"))
    row = json.loads(golden.record().model_dump_json())
    row["tests"][0]["outcome"] = "perhaps"
    assert list(jsonschema.Draft202012Validator(schema).iter_errors(row))
