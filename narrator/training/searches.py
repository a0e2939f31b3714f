"""Searches kept under a name, in one small file of the home (``searches.json``)."""

from __future__ import annotations

import json
from pathlib import Path

from narrator.errors import NarratorError
from narrator.store import Reader
from narrator.store.finding import Answer, Wanted
from narrator.training.kinds import system_of
from narrator.training.selection import check_days


def find_jobs(reader: Reader, wanted: Wanted, most: int = 50, skip: int = 0) -> Answer:
    """Jobs that have everything that is wanted, latest first: what the command and the page both ask.

    Raises:
        NarratorError: E313 when nothing is asked or a condition holds no word, E808 when the last day is
            before the first.
    """
    check_days(wanted.since, wanted.until)
    return reader.find(wanted, most, skip, system_of)


def _file(home: Path) -> Path:
    return home / "searches.json"


def saved_searches(home: Path) -> dict[str, Wanted]:
    """All kept searches by name.

    Raises:
        NarratorError: E802 when the file cannot be understood.
    """
    path = _file(home)
    try:
        kept = json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
        return {str(name): Wanted(**row) for name, row in sorted(kept.items())}
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise NarratorError("E802", path=path, why=error) from error


def saved_search(home: Path, name: str) -> Wanted:
    """One kept search.

    Raises:
        NarratorError: E803 when there is none of that name.
    """
    kept = saved_searches(home)
    if name not in kept:
        raise NarratorError("E803", name=name, known=", ".join(kept) or "none")
    return kept[name]


def keep_search(home: Path, name: str, wanted: Wanted) -> None:
    """Keep a search, in place of another of that name.

    Raises:
        NarratorError: E808 when its last day is before its first.
    """
    check_days(wanted.since, wanted.until)
    _write(home, saved_searches(home) | {name: wanted})


def forget_search(home: Path, name: str) -> None:
    """Forget a search.

    Raises:
        NarratorError: E803 when there is none of that name.
    """
    saved_search(home, name)
    _write(home, {n: w for n, w in saved_searches(home).items() if n != name})


def _write(home: Path, kept: dict[str, Wanted]) -> None:
    path = _file(home)
    part = path.with_suffix(".part")
    try:
        rows = {name: wanted.given() for name, wanted in kept.items()}
        part.write_text(json.dumps(rows, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
        part.replace(path)
    except OSError as error:
        raise NarratorError("E501", path=path, why=error.strerror or error) from error
