"""Many voices: every utterance of the data files gives exactly the entities that people wrote down for it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from tests.language.quantity_notation import understood

FOLDER = Path(__file__).parent / "phrases"


def _sessions() -> list[tuple[str, list[str], list[list[str]]]]:
    found = []
    for path in sorted(FOLDER.glob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for row in table.get("session", []):
            texts, wanted = zip(*row["lines"], strict=True)
            found.append((row["name"], list(texts), list(wanted)))
        found += [(text[:40], [text], [wanted]) for text, wanted in table.get("alone", [])]
    return found


SESSIONS = _sessions()


@pytest.mark.parametrize(("texts", "wanted"), [s[1:] for s in SESSIONS], ids=[s[0] for s in SESSIONS])
def test_entities(texts: list[str], wanted: list[list[str]]) -> None:
    found = understood(texts)
    wrong = [(t, f, w) for t, f, w in zip(texts, found, wanted, strict=True) if f != w]
    assert not wrong


def test_there_are_many_of_them() -> None:
    assert sum(len(texts) for _, texts, _ in SESSIONS) >= 250
