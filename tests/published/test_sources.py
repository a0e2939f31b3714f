"""Every published value says where it is from, in the tests' data and in the tables that are shipped."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest

from narrator.paths import GRAMMARS
from tests.published.cases import DATA, FIRM, SEEN, load

pytestmark = pytest.mark.published

NAMES = sorted(path.stem for path in DATA.glob("*.toml"))
TABLES = sorted((GRAMMARS / "standards").glob("*.toml"))


def groups(name: str) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    for group, value in load(name).items():
        yield group, value if isinstance(value, list) else [value]


@pytest.mark.parametrize("name", NAMES)
def test_every_row_names_its_source_and_how_it_was_seen(name: str) -> None:
    for group, found in groups(name):
        for row in found:
            assert row["source"], (group, row)
            assert row["seen"] in SEEN, (group, row)


@pytest.mark.parametrize("name", NAMES)
def test_no_group_rests_on_memory_or_practice_alone(name: str) -> None:
    for group, found in groups(name):
        assert any(row["seen"] in FIRM for row in found), group


@pytest.mark.parametrize("path", TABLES, ids=[path.stem for path in TABLES])
def test_shipped_tables_name_their_sources(path: Any) -> None:
    text = path.read_text(encoding="utf-8")
    if path.stem == "factors":
        assert "NIST SP 811" in text
        return
    for group, value in tomllib.loads(text).items():
        for row in value if isinstance(value, list) else [value]:
            assert row["id"] and row["source"] and row["seen"] in SEEN, (group, row)
