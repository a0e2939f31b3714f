"""The version of the rules and models that derive a record.

It changes by itself with everything that decides what a record holds: the rules in ``grammars/``, the
models, the code of the language and job rooms, and what the shop has set or added. So a record of another
version is known for stale, whoever changed what.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from narrator.paths import GRAMMARS, MODELS
from narrator.settings import Settings, load_settings

GENERATION = 1
"""First number of the version, raised by hand when records change in a way that people should hear of."""

DECIDING = ("acts", "fasteners", "names", "outcomes", "suspects", "units")
"""Folders of ``models/`` that decide what a record holds."""

_PACKAGE = Path(__file__).resolve().parent
_NO_RULES = {".md", ".pyc"}
_OWN = ("currency", "temperature")
"""Settings that change what a record says."""


def rules_version(settings: Settings | None = None) -> str:
    """``1.3f9a2c7b1d04``, and after a ``+`` a mark of the shop's own settings and words where it has any.

    ``settings`` are those in force unless given. The program's part is computed once a process.
    """
    chosen = settings or load_settings()
    own = _own(chosen)
    return _program() + (f"+{own}" if own else "")


def _own(settings: Settings) -> str:
    """A mark of what the shop set or added, empty where everything is as shipped."""
    changed = [
        f"{name}={value}"
        for name in _OWN
        if (value := getattr(settings, name)) != Settings.model_fields[name].default
    ]
    try:
        words = settings.own_words.read_bytes()
    except OSError:
        words = b""
    if not changed and not words.strip():
        return ""
    return hashlib.sha256("\n".join(changed).encode() + b"\n" + words).hexdigest()[:8]


@lru_cache(maxsize=1)
def _program() -> str:
    digest = hashlib.sha256()
    for name, path in _files():
        content = path.read_bytes().replace(b"\r\n", b"\n")  # a checkout may turn line ends
        digest.update(f"{name} {len(content)}\n".encode() + content)
    return f"{GENERATION}.{digest.hexdigest()[:12]}"


def _files() -> Iterator[tuple[str, Path]]:
    """Every file that decides, with the name it is counted under, in a fixed order."""
    models = (MODELS / name for name in DECIDING)
    roots = (GRAMMARS, *models, _PACKAGE / "language", _PACKAGE / "job")
    for root in roots:
        found = [p for p in root.rglob("*") if p.suffix not in _NO_RULES and p.is_file()]
        yield from sorted((f"{root.name}/{p.relative_to(root).as_posix()}", p) for p in found)
