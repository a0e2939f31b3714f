"""Who may import whom, and who may print: read from the source, nothing is imported."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted((ROOT / "narrator").rglob("*.py"))

BASE = {
    "values", "errors", "settings", "paths", "rules", "utterances", "wording", "phonetics", "convolution",
    "phrases", "word_network", "__init__",
}  # fmt: skip
"""Below everything; they import each other only."""
ALLOWED: dict[str, set[str]] = {
    "hearing": BASE,
    "language": BASE,
    "job": BASE,
    "store": BASE,
    "explain": {*BASE, "language", "job"},
    "looks": {*BASE, "job", "language", "store"},
    "transcript": {*BASE, "job", "sheet"},
    "sheet": {*BASE, "job"},
    "training": {*BASE, "job", "store", "language"},
    "session": {*BASE, "hearing", "language", "job", "store", "looks"},
    "archive": {*BASE, "hearing", "language", "job", "store", "session"},
    "bench": {*BASE, "hearing", "language", "job", "store", "session", "looks"},
}
"""Room to the rooms it may know besides itself. A room that is not named stands above all of these."""
ABOVE = {"review", "live", "cli"}

SOLE = {
    "vosk", "moonshine_voice", "onnxruntime", "sounddevice", "webrtcvad", "soxr", "jellyfish", "typst",
    "pint", "platformdirs",
}  # fmt: skip
"""Libraries that one module each wraps."""
STREAMS = {"sys.stdout", "sys.stderr"}
ROOM = {
    "jinja2": {"sheet", "review"},
    "spacy": {"language"},
    "thinc": {"language"},
    "sqlite_utils": {"store"},
    "click": {"cli"},
}
"""Libraries that stay in one room."""


def room(path: Path) -> str:
    """The folder or module right under the package."""
    first = path.relative_to(ROOT / "narrator").parts[0]
    return first.removesuffix(".py")


@cache
def parsed(path: Path) -> ast.Module:
    """A file's syntax, read once for all that is asked of it."""
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(path: Path) -> Iterator[str]:
    """Full names of the modules that a file imports, wherever in it."""
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports by full name, please"
            module = node.module or ""
            yield from (f"{module}.{alias.name}" for alias in node.names)


def rooms_known(path: Path) -> set[str]:
    """Our rooms that a file imports."""
    return {name.split(".")[1] for name in imported(path) if name.startswith("narrator.")}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_knows_only_what_is_below_it(path: Path) -> None:
    own, known = room(path), {"__init__" if name == "__version__" else name for name in rooms_known(path)}
    if own in BASE:
        assert known <= BASE
    elif own in ALLOWED:
        assert known <= ALLOWED[own] | {own}
    elif own != "cli":
        assert "cli" not in known


def test_every_room_has_its_place() -> None:
    assert {room(path) for path in MODULES} <= BASE | ALLOWED.keys() | ABOVE


def test_a_library_is_known_to_one_module() -> None:
    users: dict[str, set[Path]] = defaultdict(set)
    for path in MODULES:
        for name in imported(path):
            users[name.split(".")[0]].add(path)
    assert {name: users[name] for name in SOLE if len(users[name]) > 1} == {}
    for name, rooms in ROOM.items():
        assert {room(path) for path in users[name]} <= rooms


def prints(path: Path) -> list[int]:
    """Lines that write to a standard stream: ``print``, ``sys.stdout.write``, ``file=sys.stderr``."""
    found = []
    for node in ast.walk(parsed(path)):
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func)
        given = {ast.unparse(one) for one in [*node.args, *(k.value for k in node.keywords)]}
        if called == "print" or given & STREAMS or called.startswith(tuple(f"{s}.write" for s in STREAMS)):
            found.append(node.lineno)
    return found


def test_only_the_command_line_prints() -> None:
    found = {path: prints(path) for path in MODULES if room(path) != "cli"}
    assert {str(path): lines for path, lines in found.items() if lines} == {}


def test_printing_would_be_seen(tmp_path: Path) -> None:
    path = tmp_path / "loud.py"
    path.write_text(
        'import sys\nprint("a")\nsys.stderr.write("b")\nshow(file=sys.stdout)\n', encoding="utf-8"
    )
    assert prints(path) == [2, 3, 4]
