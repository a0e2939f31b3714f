"""docs/licences.md names every package that pyproject.toml names, and the licence that the package states."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import Distribution, distribution
from importlib.metadata import PackageNotFoundError as NotFound
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
SECTIONS = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8").split("\n## ")
FAMILIES = {
    "MIT": "MIT",
    "BSD": "BSD",
    "APACHE": "APACHE",
    "LGPL": "LGPL|LESSER",
    "MPL": "MPL|MOZILLA",
    "GPL": "GPL",
    "PSF": "PSF|PYTHON SOFTWARE FOUNDATION",
}


def documented(section: str) -> dict[str, str]:
    """Package to licence of a section's table."""
    text = next(part for part in SECTIONS if part.startswith(section)).split("| --- |")[-1]
    return dict(re.findall(r"^\| ([\w.-]+) \| ([\w.-]+) \|", text, re.MULTILINE))


def required(lines: list[str]) -> set[str]:
    return {Requirement(line).name for line in lines}


def stated(found: Distribution) -> str:
    """All that a package says of its licence, in capitals."""
    meta = found.metadata
    said = [meta.get("License-Expression") or "", (meta.get("License") or "")[:400]]
    said = " ".join(said + [c for c in meta.get_all("Classifier") or [] if c.startswith("License")]).upper()
    if said.strip():
        return said
    texts = [
        f for f in found.files or () if "LICEN" in f.name.upper()
    ]  # nothing in the metadata: the text itself
    return f"{texts[0].read_text(encoding='utf-8')[:200].upper()}" if texts else ""


NEEDED = documented("What narrator needs")
FOR_SPEAKING = documented("What spoken answers need")
FOR_WHISPER = documented("What a second pass by Whisper needs")
FOR_STUDIES = documented("What studies need")
FOR_ARCHIVES = documented("What large archives need")
FOR_DEVELOPERS = documented("What only developers need")


def test_every_dependency_is_listed_and_no_other() -> None:
    assert set(NEEDED) == required(PROJECT["dependencies"])
    extras = PROJECT["optional-dependencies"]
    assert set(FOR_DEVELOPERS) == required(extras["dev"]) - {"narrator"}
    assert set(FOR_SPEAKING) == required(extras["speak"])
    assert set(FOR_STUDIES) == required(extras["study"])
    assert set(FOR_ARCHIVES) == required(extras["archive"]) - {"narrator"}
    assert set(FOR_WHISPER) == required(extras["whisper"])


OPTIONAL = FOR_SPEAKING | FOR_STUDIES | FOR_ARCHIVES | FOR_WHISPER


@pytest.mark.parametrize(("name", "licence"), (NEEDED | OPTIONAL | FOR_DEVELOPERS).items())
def test_the_licence_is_the_one_that_the_package_states(name: str, licence: str) -> None:
    try:
        said = stated(distribution(name))
    except NotFound:
        pytest.skip("not installed here")
    if not said.strip():
        pytest.skip("the package states none in its metadata")
    family = next(word for word in FAMILIES if licence.upper().startswith(word))
    assert re.search(FAMILIES[family], said)


def closure(names: set[str]) -> dict[str, Distribution]:
    """Everything that these packages bring along, as far as it is installed."""
    found: dict[str, Distribution] = {}
    due = sorted(names)
    while due:
        name = due.pop().lower().replace("_", "-")
        if name in found:
            continue
        try:
            found[name] = distribution(name)
        except NotFound:
            continue
        wanted = [Requirement(line) for line in found[name].requires or ()]
        due += [r.name for r in wanted if r.marker is None or r.marker.evaluate({"extra": ""})]
    return found


def test_nothing_that_comes_along_is_under_the_gpl() -> None:
    found = closure(required(PROJECT["dependencies"]))
    assert len(found) > 30
    strict = {n for n, d in found.items() if re.search(r"\bA?GPL|(?<!LESSER )GENERAL PUBLIC", stated(d))}
    assert strict == set()


def test_the_files_that_are_named_are_there() -> None:
    notice = (ROOT / "NOTICE").read_text(encoding="utf-8")
    assert "docs/licences.md" in notice
    voices = set(
        re.findall(
            r'^voices? = "(\w+)"',
            "\n".join(
                p.read_text(encoding="utf-8") for p in (ROOT / "sample_sessions").glob("*/script.toml")
            ),
            re.MULTILINE,
        )
    )
    assert all(f"`{voice}`" in SECTIONS[-1] for voice in voices)
