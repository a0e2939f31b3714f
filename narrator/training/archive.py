"""The study's tables over a whole store, kept as Parquet beside it and brought up to date when asked.

They are derived from the records and can be thrown away. Only sessions whose record has changed are measured
again. Records are taken as they stand: whether they are of today's rules is told, not mended, here.
"""

from __future__ import annotations

import json
import secrets
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.store import Reader
from narrator.training.information import EQUAL, Priors
from narrator.training.parquet import Sink, without
from narrator.training.tables import TABLES, VERSION, Job, rows

FOLDER = "study"
_MANIFEST = "manifest.json"


@dataclass(frozen=True, slots=True)
class Archive:
    """Where the tables lie; ``jobs`` of them, ``without`` sessions have no record, ``odd`` ones an unreadable
    record; ``measured`` were measured anew. ``rules`` are the versions of rules that made the records."""

    folder: Path
    jobs: int
    without: int
    odd: int
    measured: int
    rules: tuple[str, ...]


def refresh(
    home: Path, priors: Priors = EQUAL, progress: Callable[[int, int], None] = lambda done, of: None
) -> Archive:
    """Bring the study's tables of a home up to date.

    With priors of one's own everything is measured anew, into a folder of its own.

    Raises:
        NarratorError: E801 when DuckDB is missing; E307 and others when the store cannot be read.
    """
    folder = home / FOLDER if priors == EQUAL else home / FOLDER / "priors"
    with Reader(home) as reader:
        digests = reader.digests()
        total = reader.session_count()
        known = _known(folder) if priors == EQUAL else {}
        changed = sorted(s for s, d in digests.items() if known.get(s) != d)
        dropped = sorted({*changed, *(s for s in known if s not in digests)})
        odd: list[str] = []
        if dropped or not (folder / _MANIFEST).exists() or priors != EQUAL:
            with Sink(TABLES) as sink:
                for n, (job, text) in enumerate(reader.records(changed), start=1):
                    _add(sink, Job(*job), text, priors, odd)
                    progress(n, len(changed))
                sink.write(folder, folder if known else None, dropped)
            _keep(folder, digests)
        rules = tuple(reader.rules_used())
    return Archive(folder, len(digests) - len(odd), total - len(digests), len(odd), len(changed), rules)


def export_tables(home: Path, folder: Path, *, teaching: bool = False) -> None:
    """Write the tables of all jobs as Parquet; for teaching without people, times, free text and ids.

    Raises:
        NarratorError: E801 when DuckDB is missing, E501 when a file cannot be written.
    """
    archive, salt = refresh(home), secrets.token_hex(16)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in sorted(TABLES.keys() - (_UNTOLD if teaching else set())):
            source, target = archive.folder / f"{name}.parquet", folder / f"{name}.parquet"
            if teaching:
                without(source, target, _TELLING.get(name, ()), salt)
            else:
                shutil.copyfile(source, target)
    except OSError as error:
        raise NarratorError("E501", path=folder, why=error.strerror or error) from error


_TELLING = {"jobs": ("person", "started"), "tests": ("procedure",)}
_UNTOLD = {"sketches"}
"""What may tell who said it, here or elsewhere, is left out of what is exported for teaching."""


def _add(sink: Sink, job: Job, text: str, priors: Priors, odd: list[str]) -> None:
    try:
        record = Record.model_validate_json(text)
    except ValueError:  # a record of other rules; `narrator rebuild` makes it anew
        odd.append(job.session)
        return
    for name, made in rows(job, record, priors).items():
        sink.add(name, made)


def _known(folder: Path) -> dict[str, str]:
    """Sessions whose rows are in the tables, with the digest of the record they were drawn from."""
    try:
        kept = json.loads((folder / _MANIFEST).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    whole = all((folder / f"{name}.parquet").exists() for name in TABLES)
    return dict(kept["sessions"]) if whole and kept.get("version") == VERSION else {}


def _keep(folder: Path, digests: dict[str, str]) -> None:
    path = folder / _MANIFEST
    part = path.with_suffix(".part")
    try:
        part.write_text(json.dumps({"version": VERSION, "sessions": digests}), encoding="utf-8")
        part.replace(path)
    except OSError as error:
        raise NarratorError("E501", path=path, why=error.strerror or error) from error
