"""The version of the rules: the same for the same rules, another for any other."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from narrator import rules
from narrator.language import Reader
from narrator.paths import GRAMMARS, MODELS
from narrator.settings import Settings
from narrator.values import Price, Utterance


@pytest.fixture(autouse=True)
def forgotten() -> Iterator[None]:
    rules._program.cache_clear()
    yield
    rules._program.cache_clear()


@pytest.fixture
def plain(tmp_path: Path) -> Settings:
    return Settings(home=tmp_path / "home")


@pytest.fixture
def copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of all that decides, which the version is computed from."""
    shutil.copytree(GRAMMARS, tmp_path / "grammars")
    for models in rules.DECIDING:
        shutil.copytree(MODELS / models, tmp_path / "models" / models)
    for room in ("language", "job"):
        shutil.copytree(Path(rules.__file__).parent / room, tmp_path / "narrator" / room)
    monkeypatch.setattr(rules, "GRAMMARS", tmp_path / "grammars")
    monkeypatch.setattr(rules, "MODELS", tmp_path / "models")
    monkeypatch.setattr(rules, "_PACKAGE", tmp_path / "narrator")
    return tmp_path


def fresh(settings: Settings) -> str:
    rules._program.cache_clear()
    return rules.rules_version(settings)


def test_a_copy_has_the_same_version_also_with_other_line_ends(
    plain: Settings, copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    of_copy = fresh(plain)
    for path in copy.rglob("*.toml"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    (copy / "narrator" / "job" / "__pycache__").mkdir(exist_ok=True)
    (copy / "narrator" / "job" / "__pycache__" / "x.pyc").write_bytes(b"1")
    assert fresh(plain) == of_copy
    monkeypatch.undo()
    assert fresh(plain) == of_copy


@pytest.mark.parametrize(
    "name",
    [
        "grammars/acts.toml",
        "models/acts/bag/features.txt",
        "narrator/language/cues.py",
        "narrator/job/work.py",
    ],
)
def test_any_change_is_another_version(plain: Settings, copy: Path, name: str) -> None:
    before = fresh(plain)
    path = copy / name
    path.write_bytes(path.read_bytes() + b"\n")
    assert fresh(plain) != before


def test_the_shops_words_and_settings_are_part_of_it(plain: Settings, tmp_path: Path) -> None:
    shipped = rules.rules_version(plain)
    assert "+" not in shipped
    own = {
        rules.rules_version(plain.model_copy(update=change))
        for change in ({"currency": "CAD"}, {"temperature": "Cel"}, {"shop": "Lower Yard"})
    }
    assert len(own) == 3
    assert rules.rules_version(plain.model_copy(update={"shop": "Lower Yard"})) == shipped
    plain.own_words.parent.mkdir()
    plain.own_words.write_text('[[word]]\nname = "flobber valve"\nkind = "component"\n', encoding="utf-8")
    assert rules.rules_version(plain).startswith(f"{shipped}+")


def test_the_reader_takes_currency_and_temperature_from_the_settings(plain: Settings) -> None:
    said = [
        Utterance(1, 0.0, 2.0, "the seal kit is forty eight dollars and fifty cents"),
        Utterance(2, 3.0, 5.0, "it runs at ninety degrees"),
    ]
    read = list(
        Reader(settings=plain.model_copy(update={"currency": "CAD", "temperature": "Cel"})).read(said)
    )
    entities = [entity for one in read for entity in one.entities]
    assert [e.currency for e in entities if isinstance(e, Price)] == ["CAD"]
    assert [e.unit for e in entities if e.type == "measurement"] == ["Cel"]
