"""``narrator export``: one session for other programs and people."""

from __future__ import annotations

import os
from pathlib import Path

import click

from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.session import as_corrected, current_record
from narrator.settings import load_settings
from narrator.sheet.markdown import render_markdown
from narrator.sheet.view import SheetMeta, view
from narrator.store import Reader
from narrator.store.captions import to_webvtt
from narrator.store.rows import SessionRow
from narrator.transcript import to_markdown


@click.command("export")
@click.argument("ident", metavar="ID")
@click.option(
    "--format", "kind", type=click.Choice(["json", "vtt", "md"]), default="json", show_default=True,
    help="The record; WebVTT captions of what was said; or sheet and transcript in Markdown.",
)  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="File to write; else printed.")
def command(ident: str, kind: str, out: Path | None) -> None:
    """Print session ID as a job record (JSON), as captions (WebVTT) or as Markdown."""
    home = load_settings().home
    with Reader(home) as reader:
        one = reader.resolve(ident)
        facts = reader.facts(one)
    if kind == "vtt":
        text = to_webvtt(as_corrected(facts))
    else:
        record = current_record(home, one)
        text = record.model_dump_json(indent=1) + "\n" if kind == "json" else _markdown(record, facts.session)
    if out is None:
        click.echo(text.encode(), nl=False)
    else:
        _write(out, text)
        click.echo(f"Written: {out}", err=True)


def _markdown(record: Record, row: SessionRow) -> str:
    """The sheet, and below it every line that was said."""
    meta = SheetMeta(shop=load_settings().shop, date=row.started[:10], session=row.id)
    return render_markdown(view(record, meta)) + "\n" + to_markdown(record, "What was said")


def _write(path: Path, text: str) -> None:
    """Write the whole file or leave what was there: first beside it, then in its place."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(text.encode())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise NarratorError("E501", path=path, why=error.strerror or error) from error
