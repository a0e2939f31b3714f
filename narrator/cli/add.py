"""``narrator add``: a finished narration put into the store."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from narrator import session as sessions
from narrator.errors import NarratorError
from narrator.settings import load_settings
from narrator.utterances import parse_lines

TEXT_SUFFIXES = {".jsonl", ".ndjson", ".json"}


@click.command("add")
@click.argument("source", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--vehicle", help="What vehicle it is, for the list, until the record tells.")
@click.option("--started", type=click.DateTime(), help="When the job began, in local time; by default now.")
def command(source: Path, vehicle: str | None, started: datetime | None) -> None:
    """Keep SOURCE (utterances as JSON Lines) as a session and print its id.

    It is kept whole or not at all, and its record is derived at once.
    """
    try:
        with source.open(encoding="utf-8", errors="replace") as lines:
            utterances = list(parse_lines(lines))
    except OSError as error:
        raise NarratorError("E101", path=source) from error
    if not utterances:
        raise NarratorError("E402", path=source)
    began = started.astimezone().isoformat(timespec="seconds") if started else None
    home = load_settings().home
    click.echo(sessions.keep_session(home, utterances, source=source.name, started=began, vehicle=vehicle))
