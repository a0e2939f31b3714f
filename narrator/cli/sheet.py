"""``narrator sheet``: the job sheet of a sound file, of utterances, of a record or of a kept session."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import click
from pydantic import ValidationError

from narrator.cli.terminal import console
from narrator.errors import NarratorError
from narrator.job.record import LookRow, Record
from narrator.settings import Settings, load_settings
from narrator.sheet.terminal import render_terminal
from narrator.sheet.view import SheetMeta, view
from narrator.sheet.write import FILES, Format, write_sheet
from narrator.utterances import parse_lines
from narrator.values import SAMPLE_RATE, AudioChunk, Gap, Utterance

if TYPE_CHECKING:
    from click._termui_impl import ProgressBar

_WIDTH = 110
"""Columns that a sheet is read in, however wide the terminal."""
_PLAIN_NAMES = {"sound", "utterances", "record", "expected"}
_LINES = {".jsonl", ".ndjson"}


def _formats(ctx: click.Context, param: click.Parameter, given: str) -> list[Format]:
    known: tuple[Format, ...] = get_args(Format)
    wanted = [name.strip().lower() for name in given.split(",") if name.strip()]
    for name in wanted:
        if name not in known:
            raise NarratorError("E523", name=name, known=", ".join(known))
    return [name for name in known if name in wanted]


@click.command("sheet")
@click.argument("source")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False),
              help="Folder to write into; by default sheet-out/NAME here.")  # fmt: skip
@click.option("--format", "formats", callback=_formats, default=",".join(FILES), show_default=True,
              help="What to write, separated by commas.")  # fmt: skip
@click.option(
    "--engine", help="Recognizer for a sound file (see `narrator models`); by default the settings'."
)
@click.option(
    "--paper", type=click.Choice(["a4", "us-letter"]), help="Paper of the PDF; by default the settings'."
)
@click.option("--technician", default="", help="Who worked, printed on the signature line.")
@click.option(
    "--date", default=None, help="Date as it shall be printed; else that of a kept session, or a blank."
)
@click.option("--shop", default=None, help="Name of the shop; by default the settings'.")
def command(  # noqa: PLR0917 - click passes them by name
    source: str, out: Path | None, formats: list[Format], engine: str | None, paper: str | None,
    technician: str, date: str | None, shop: str | None,
) -> None:  # fmt: skip
    """Print the job sheet of SOURCE and write it as HTML, PDF, Markdown and JSON.

    SOURCE is a sound file, utterances as JSON Lines (.jsonl, or - for standard input), a job record (.json),
    or the id of a kept session (`last` is the latest).
    """
    settings = load_settings()
    loaded = _load(source, settings, engine)
    shop = settings.shop if shop is None else shop
    sheet = view(
        loaded.record,
        SheetMeta(shop, loaded.date if date is None else date, loaded.name, technician, loaded.vehicle),
    )
    folder = out or Path("sheet-out") / (re.sub(r"[^\w.-]+", "-", loaded.name).strip(".-") or "sheet")
    written = write_sheet(
        loaded.record, sheet, folder, formats, "us-letter" if (paper or settings.paper) != "a4" else "a4"
    )
    out_to = console()
    out_to.width = min(out_to.width, _WIDTH)
    out_to.print(render_terminal(sheet))
    for path in written:
        click.echo(f"Written: {path}", err=True)
    if loaded.broken:
        raise loaded.broken


@dataclass(frozen=True, slots=True)
class _Loaded:
    """A record, the name to file it under, its date where known, what broke while it was heard, and the
    vehicle that a kept session was begun with."""

    record: Record
    name: str
    date: str = ""
    broken: NarratorError | None = None
    vehicle: str = ""


def _load(source: str, settings: Settings, engine: str | None) -> _Loaded:
    path = Path(source)
    if source == "-" or path.suffix.lower() in _LINES:
        return _Loaded(_compiled(_from_lines(source)), "stdin" if source == "-" else _name(path))
    if path.suffix.lower() == ".json":
        return _Loaded(_from_json(path), _name(path))
    if path.exists() or path.suffix or len(path.parts) > 1:
        return _from_sound(path, settings, engine)
    return _from_store(source, settings)


def _name(path: Path) -> str:
    """What to call a file's job: its name, or its folder's where the name tells nothing."""
    stem = path.stem.removesuffix(".record")
    return path.absolute().parent.name or stem if stem in _PLAIN_NAMES else stem


def _from_lines(source: str) -> list[Utterance]:
    try:
        with click.open_file(source, encoding="utf-8", errors="replace") as lines:
            found = list(parse_lines(lines))
    except OSError as error:
        raise NarratorError("E101", path=source) from error
    if not found:
        raise NarratorError("E402", path=source)
    return found


def _from_json(path: Path) -> Record:
    try:
        return Record.model_validate_json(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise NarratorError("E101", path=path) from error
    except (ValidationError, UnicodeDecodeError) as error:
        why = error.errors()[0]["msg"] if isinstance(error, ValidationError) else "not UTF-8 text"
        raise NarratorError("E522", path=path, why=why) from error


def _from_store(typed: str, settings: Settings) -> _Loaded:
    from narrator.session import current_record  # noqa: PLC0415 - loads spaCy only where a record is out of date
    from narrator.store import Reader  # noqa: PLC0415

    with Reader(settings.home) as reader:
        ident = reader.resolve(typed)
        row = next(row for row in reader.sessions() if row.id == ident)
    record = current_record(settings.home, ident)
    return _Loaded(record, ident, row.started[:10], vehicle=row.vehicle or "")


def _from_sound(path: Path, settings: Settings, engine: str | None) -> _Loaded:
    """Hear a sound file; one that breaks off gives what was heard so far, and the error for afterwards."""
    from narrator.hearing.hear import hear  # noqa: PLC0415 - engines load only where sound is heard
    from narrator.hearing.recognizer import open_recognizer  # noqa: PLC0415
    from narrator.hearing.source import FileSource  # noqa: PLC0415

    source = FileSource(path)
    recognizer = open_recognizer(settings, engine)
    heard: list[Utterance] = []
    broken: NarratorError | None = None
    try:
        with click.progressbar(length=round(source.seconds or 0), label="Hearing", file=sys.stderr) as bar:
            heard += (one for one in hear(_watched(source, bar), recognizer) if isinstance(one, Utterance))
    except NarratorError as error:
        broken = error
    if recognizer.unheard >= 1:
        click.echo(
            f"No words were found in {recognizer.unheard:.0f} s of what sounded like speech.", err=True
        )
    record = _compiled(heard)
    if broken and heard:
        record.looks.append(LookRow(kind="sound", reason=broken.message, utterance=heard[-1].id))
    return _Loaded(record, _name(path), "", broken)


def _watched(source: Iterable[AudioChunk | Gap], bar: ProgressBar[int]) -> Iterator[AudioChunk | Gap]:
    """The same sound, moving the bar on at every whole second."""
    done = 0
    for block in source:
        end = int(block.end if isinstance(block, Gap) else (block.first + len(block.samples)) / SAMPLE_RATE)
        if end > done:
            bar.update(end - done)
            done = end
        yield block


def _compiled(utterances: Iterable[Utterance]) -> Record:
    from narrator.job.compile import compile_record  # noqa: PLC0415 - spaCy loads only where it is needed
    from narrator.language import Reader as LanguageReader  # noqa: PLC0415

    return compile_record(LanguageReader().read(utterances))
