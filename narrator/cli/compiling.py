"""``narrator compile``: utterances in, one record out."""

from __future__ import annotations

from pathlib import Path

import click

from narrator.errors import NarratorError
from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.utterances import parse_lines


@click.command("compile")
@click.argument("source", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True))
def command(source: Path) -> None:
    """Compile SOURCE (utterances as JSON Lines, - for standard input) into a record, printed as JSON."""
    try:
        with click.open_file(str(source), encoding="utf-8", errors="replace") as lines:
            utterances = list(parse_lines(lines))
    except OSError as error:
        raise NarratorError("E101", path=source) from error
    record = compile_record(Reader().read(utterances))
    click.echo(record.model_dump_json(indent=1))
