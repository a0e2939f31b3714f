"""``narrator export``: one session for other programs and people."""

from __future__ import annotations

import json
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
from narrator.training.archive import export_tables
from narrator.training.teaching import teaching_record
from narrator.training.whole import FOLDER, export_store
from narrator.transcript import to_markdown


@click.command("export")
@click.argument("ident", metavar="[ID]", required=False)
@click.option(
    "--format", "kind", type=click.Choice(["json", "vtt", "md"]), default="json", show_default=True,
    help="The record; WebVTT captions of what was said; or sheet and transcript in Markdown.",
)  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="File to write; else printed.")
@click.option("--all", "everything", is_flag=True, help="All jobs; needs --parquet.")
@click.option(
    "--parquet", type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the tables of all jobs and of the whole store as Parquet (narrator[study]).",
)  # fmt: skip
@click.option(
    "--teaching",
    is_flag=True,
    help="Take names, plates, VINs and numbers of people out; no sound, JSON only.",
)
@click.option(
    "--name", "names", multiple=True, help="With --teaching: a further name to take out; repeatable."
)
def command(
    *, ident: str | None, kind: str, out: Path | None, everything: bool, parquet: Path | None,
    teaching: bool, names: tuple[str, ...],
) -> None:  # fmt: skip
    """Print session ID as a job record (JSON), as captions (WebVTT) or as Markdown; or all as Parquet."""
    home = load_settings().home
    if everything != (parquet is not None) or everything == bool(ident):
        raise NarratorError("E807", what="give a session's id, or --all with --parquet FOLDER")
    if parquet is not None:
        export_tables(home, parquet, teaching=teaching)
        if not teaching:
            export_store(home, parquet / FOLDER)
        click.echo(f"Written: {parquet}", err=True)
        return
    if teaching and kind != "json":
        raise NarratorError("E807", what="a job for teaching is exported as JSON only")
    _one(home, str(ident), kind, out, names if teaching else None)


def _one(home: Path, ident: str, kind: str, out: Path | None, names: tuple[str, ...] | None) -> None:
    with Reader(home) as reader:
        one = reader.resolve(ident)
        facts = reader.facts(one)
    if kind == "vtt":
        text = to_webvtt(as_corrected(facts))
    else:
        record = current_record(home, one)
        text = record.model_dump_json(indent=1) + "\n" if kind == "json" else _markdown(record, facts.session)
        if names is not None:
            speakers = [u.speaker for u in facts.utterances if u.speaker]
            kept = teaching_record(record, speakers, names)
            text = json.dumps(kept, ensure_ascii=False, indent=1) + "\n"
    if out is None:
        click.echo(text.encode(), nl=False)
    else:
        _write(out, text)
        click.echo(f"Written: {out}", err=True)


def _markdown(record: Record, row: SessionRow) -> str:
    """The sheet, and below it every line that was said."""
    meta = SheetMeta(
        shop=load_settings().shop, date=row.started[:10], session=row.id, vehicle=row.vehicle or ""
    )
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
