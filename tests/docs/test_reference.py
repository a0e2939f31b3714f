"""Commands, options, settings and errors: the docs say what the program has, and nothing that is gone."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest

from narrator.errors import CATALOGUE
from narrator.settings import Settings
from tests.docs import reference

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])
COMMANDS = dict(reference.all_commands())
_HELP = {"--help", "-h", "--version"}


@pytest.mark.parametrize("name", reference.BLOCKS)
def test_a_page_is_as_the_program_makes_it(name: str) -> None:
    written = (reference.DOCS / f"{name}.md").read_text(encoding="utf-8")
    assert written == reference.page(name), "run python -m tests.docs.reference"


def test_every_command_and_option_is_in_the_page() -> None:
    text = (reference.DOCS / "commands.md").read_text(encoding="utf-8")
    for name, command in COMMANDS.items():
        assert f"\n## narrator {name}\n" in text
        section = text.split(f"\n## narrator {name}\n")[1].split("\n## ")[0]
        for option in (p for p in command.params if isinstance(p, click.Option) and not p.hidden):
            assert all(f"`{one}`" in section for one in option.opts)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_says_what_it_does(name: str) -> None:
    assert COMMANDS[name].help
    assert all(p.help for p in COMMANDS[name].params if isinstance(p, click.Option))


def test_every_setting_is_described() -> None:
    text = (reference.DOCS / "settings.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| `(\w+)` \| `NARRATOR_", text, re.MULTILINE)) == set(Settings.model_fields)
    assert all(field.description for field in Settings.model_fields.values())


def test_every_error_is_described() -> None:
    text = (reference.DOCS / "errors.md").read_text(encoding="utf-8")
    assert set(re.findall(r"^\| (E\d+) \|", text, re.MULTILINE)) == set(CATALOGUE)


def test_every_error_that_is_raised_is_in_the_catalogue() -> None:
    code = "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "narrator").rglob("*.py"))
    used = set(re.findall(r'"(E\d{3})"(?!: Entry)', code))
    assert used <= set(CATALOGUE)
    assert len(used) > 50


def _named(page: Path) -> list[str]:
    """What a page tells people to type: code with ``narrator`` in it, up to a comment or a pipe."""
    text = page.read_text(encoding="utf-8")
    lines = re.findall(r"^ {4,}(.*)$", text, re.MULTILINE) + re.findall(r"`([^`\n]+)`", text)
    return [
        re.split(r"\s{2,}|[|;#>]|&&", found.replace(r"\|", "_"))[0].strip()
        for line in lines
        for found in re.findall(r"(?:^|bin/)(narrator [a-z].*)", line.strip())
    ]


NAMED = [(page.name, line) for page in PAGES for line in _named(page)]


@pytest.mark.parametrize(("page", "line"), NAMED)
def test_what_people_are_told_to_type_exists(page: str, line: str) -> None:
    words = shlex.split(re.sub(r"[\[\]]", " ", line))[1:]
    inner = " ".join(words[:2])
    name = inner if inner in COMMANDS else words[0]
    assert name in COMMANDS, f"{page}: {line}"
    known = {o for p in COMMANDS[name].params for o in (*p.opts, *p.secondary_opts)} | _HELP
    assert {w.split("=")[0] for w in words if re.match(r"--\w", w)} <= known, f"{page}: {line}"


def test_something_is_named() -> None:
    assert len(NAMED) > 40


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_files_that_a_page_names_are_there(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    links = [(page.parent / to) for to in re.findall(r"\]\((?!https?:)([^)#]+)\)", text)]
    named = re.findall(r"`?((?:docs|grammars|models|sample_sessions|tests|narrator)/[\w./-]+\w/?)`?", text)
    missing = [str(p) for p in [*links, *(ROOT / one for one in named)] if not p.exists()]
    assert not missing


def test_docs_that_the_program_names_are_there() -> None:
    for path in (ROOT / "narrator").rglob("*.py"):
        for name in re.findall(r"docs/[\w./-]+\w", path.read_text(encoding="utf-8")):
            assert (ROOT / name).exists(), f"{path}: {name}"
