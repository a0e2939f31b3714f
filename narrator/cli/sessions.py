"""``narrator sessions``: what is kept."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from pathlib import Path

import click
from rich.table import Table

from narrator.cli.terminal import clock, console, plain
from narrator.errors import NarratorError
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.store.alive import TAPE, broken_off
from narrator.store.erase import sound_folder
from narrator.store.rows import SessionRow
from narrator.values import SAMPLE_RATE

BROKE_OFF = "broke off"
"""State of a session whose program is gone without having ended it; the next ``narrator listen`` does."""


@click.command("sessions")
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list instead of a table.")
def command(as_json: bool) -> None:
    """List the sessions that are kept, oldest first."""
    rows = _kept()
    if as_json:
        click.echo(json.dumps([asdict(row) for row in rows], indent=1, ensure_ascii=False))
    elif rows:
        console().print(_table(rows))
    else:
        home = load_settings().home
        click.echo(f"No session is kept in {home} yet; `narrator add FILE` puts one there.", err=True)


def _kept() -> list[SessionRow]:
    try:
        home = load_settings().home
        with Reader(home) as reader:
            return [_so_far(home, row) for row in reader.sessions()]
    except NarratorError as error:
        if error.code == "E307":
            return []
        raise


def _so_far(home: Path, row: SessionRow) -> SessionRow:
    """The row; of a session without an end with as much sound as is on its tape, and whether it broke off."""
    if row.state != "open":
        return row
    if broken_off(home, [row.id]):
        row = replace(row, state=BROKE_OFF)
    folder = sound_folder(home, row.id)
    if not (folder / TAPE).is_file():
        return row
    from narrator.hearing.archive import tape_end  # noqa: PLC0415 - sound libraries load only for sound

    return replace(row, audio_seconds=tape_end(folder) / SAMPLE_RATE)


def _table(rows: list[SessionRow]) -> Table:
    table = Table(box=None, pad_edge=False)
    for name in ("id", "started", "vehicle", "length", "sound", "utterances", "gaps", "state"):
        table.add_column(name, justify="right" if name in {"length", "utterances", "gaps"} else "left",
                         no_wrap=name != "vehicle")  # fmt: skip
    for row in rows:
        table.add_row(
            row.id,
            plain(row.started[:16].replace("T", " ")),
            plain(row.vehicle or "–"),
            clock(row.spoken_until if row.audio_seconds is None else row.audio_seconds),
            "no" if row.audio_seconds is None else "yes",
            str(row.utterances),
            str(row.gaps),
            row.state,
        )
    return table
