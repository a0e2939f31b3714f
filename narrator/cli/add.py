"""``narrator add``: a finished narration put into the store."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import click

from narrator import session as sessions
from narrator.errors import NarratorError
from narrator.settings import Settings, load_settings
from narrator.utterances import parse_lines

_LINES = {".jsonl", ".ndjson"}


@click.command("add")
@click.argument("source", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
@click.option("--engine", help="Recognizer for a sound file; by default the settings'.")
@click.option("--vehicle", help="What vehicle it is, for the list, until the record tells.")
@click.option("--started", type=click.DateTime(), help="When the job began, in local time; by default now.")
def command(source: Path, engine: str | None, vehicle: str | None, started: datetime | None) -> None:
    """Keep SOURCE as a session, derive its record, and print the session's id.

    SOURCE is a sound file, which is copied, or utterances as JSON Lines (.jsonl, or - for standard
    input), which are kept whole or not at all.
    """
    settings = load_settings()
    began = started.astimezone().isoformat(timespec="seconds") if started else None
    if source.suffix.lower() in _LINES or str(source) == "-":
        _add_lines(settings, source, vehicle, began)
    else:
        _add_sound(settings, source, engine, vehicle, began)


def _add_lines(settings: Settings, source: Path, vehicle: str | None, began: str | None) -> None:
    try:
        with click.open_file(str(source), encoding="utf-8", errors="replace") as lines:
            utterances = list(parse_lines(lines))
    except OSError as error:
        raise NarratorError("E101", path=source) from error
    if not utterances:
        raise NarratorError("E402", path=source)
    name = None if str(source) == "-" else source.name
    engines = {one.engine for one in utterances}
    click.echo(
        sessions.keep_session(
            settings.home, utterances, source=name, started=began, vehicle=vehicle,
            engine=engines.pop() if len(engines) == 1 else None,
        )
    )  # fmt: skip


def _add_sound(
    settings: Settings, source: Path, engine: str | None, vehicle: str | None, began: str | None
) -> None:
    from narrator.hearing.source import FileSource  # noqa: PLC0415 - sound libraries load only for sound

    length = FileSource(source).seconds or 0.0
    with click.progressbar(length=round(length), label="Hearing", file=sys.stderr) as bar:
        done = 0

        def progress(seconds: float) -> None:
            nonlocal done
            if int(seconds) > done:
                bar.update(int(seconds) - done)
                done = int(seconds)

        kept = sessions.keep_sound(
            settings, source, engine=engine, started=began, vehicle=vehicle, progress=progress
        )
    click.echo(kept.session)
    if kept.unheard >= 1:
        click.echo(f"No words were found in {kept.unheard:.0f} s of what sounded like speech.", err=True)
    if kept.broken:
        raise kept.broken
