"""Writes docs/record.schema.json, the job record as JSON Schema (2020-12), from the typed models.

Run ``python -m narrator.sheet.schema docs/record.schema.json`` after a change of ``narrator.job.record``;
a test compares the file with the models.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from narrator.job.record import CONTRACT, Record


def schema_text() -> str:
    """The schema as the text of its file."""
    schema = Record.model_json_schema(mode="serialization")
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Job record, contract {CONTRACT}",
    }
    return json.dumps({**head, **{k: v for k, v in schema.items() if k != "title"}}, indent=1) + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(schema_text(), encoding="utf-8")
