"""docs/understanding.md names every act and entity type, and its examples are read as it says."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from pathlib import Path

import pytest

from narrator.job.compile import entity_row
from narrator.language import Reader
from narrator.values import ACTS, ENTITY_TYPES, Understood, Utterance

TEXT = (Path(__file__).parents[2] / "docs" / "understanding.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split(" | ")] for line in TEXT.splitlines() if line[:3] == "| `"
]
JOB = [(cells[0].strip("`"), cells[2]) for cells in ROWS if len(cells) == 3]
NAMES = [
    (cells[0].strip("`"), cells[2], json.loads(cells[3].strip("`"))) for cells in ROWS if len(cells) == 4
]


def read(texts: list[str]) -> list[Understood]:
    said = [Utterance(n, n * 6.0, n * 6.0 + 4.0, text) for n, text in enumerate(texts, start=1)]
    return list(Reader().read(said))


@lru_cache(maxsize=1)
def job() -> list[Understood]:
    return read([example for _, example in JOB])


def test_every_act_and_entity_type_is_described_once() -> None:
    assert sorted(act for act, _ in JOB) == sorted(ACTS)
    assert sorted(kind for kind, _, _ in NAMES) == sorted(ENTITY_TYPES)
    assert len(re.findall(r"^\| `", TEXT, re.MULTILINE)) == len(ACTS) + len(ENTITY_TYPES)


@pytest.mark.parametrize("place", range(len(JOB)), ids=[act for act, _ in JOB])
def test_an_act_is_found_in_its_example(place: int) -> None:
    assert JOB[place][0] in job()[place].acts


def test_the_aside_carries_nothing() -> None:
    assert not job()[[act for act, _ in JOB].index("aside")].entities


@pytest.mark.parametrize(("kind", "example", "wanted"), NAMES, ids=[kind for kind, _, _ in NAMES])
def test_an_entity_is_read_from_its_example(kind: str, example: str, wanted: dict[str, object]) -> None:
    rows = [entity_row(entity) for entity in read([example])[0].entities if entity.type == kind]
    stripped = [{k: v for k, v in row.items() if k not in ("type", "span", "rule")} for row in rows]
    assert stripped == [wanted]
