"""Talk without annotation that the network may learn from."""

from __future__ import annotations

import re
from pathlib import Path

from models.understanding.corpus import unmarked
from models.understanding.narrations.proofread import is_brand


def test_it_names_no_brand_and_no_line_is_said_twice() -> None:
    lines = [line for _, told in unmarked() for line in told]
    named = {word for line in lines for word in re.findall(r"[a-z][a-z'-]+", line.lower()) if is_brand(word)}
    assert not named
    assert len({line.lower() for line in lines}) == len(lines) > 25_000


def test_lines_are_read_as_they_stand(tmp_path: Path) -> None:
    (tmp_path / "b.txt").write_text("two tens out\n\nthat's it\n", encoding="utf-8")
    (tmp_path / "a.txt").write_text("one\n", encoding="utf-8")
    assert list(unmarked(tmp_path)) == [("a", ["one"]), ("b", ["two tens out", "that's it"])]
