"""``narrator study``: what many jobs teach."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click
from rich.table import Table as Grid

from narrator.cli.asked import Day, System
from narrator.cli.terminal import console, plain
from narrator.errors import NarratorError
from narrator.rules import rules_version
from narrator.settings import load_settings
from narrator.training.alike import LIKENESS
from narrator.training.archive import Archive, refresh
from narrator.training.information import EQUAL, Priors
from narrator.training.report import brief, write_csv, write_html, write_parquet
from narrator.training.selection import Selection, check_days
from narrator.training.study import LEAST, study

_FOLDER = click.Path(path_type=Path, file_okay=False)


@click.command("study")
@click.option("--system", default="", type=System(), help="System of a suspect: brakes, charging, fuel ...")
@click.option("--component", default="", help="Part of a suspect's name.")
@click.option(
    "--symptom", default="", help="Kind of symptom (grammars/symptoms.toml), or a part of its name."
)
@click.option("--code", default="", help="Trouble code named; P03* for all that begin so.")
@click.option("--person", default="", help="Jobs of one person only.")
@click.option("--without", multiple=True, metavar="PERSON", help="Leave out a person's jobs; repeatable.")
@click.option("--since", default="", type=Day(), help="First day (2031-03-04).")
@click.option("--until", default="", type=Day(), help="Last day.")
@click.option(
    "--people", type=click.Choice(["pseudonyms", "names", "none"]), default="pseudonyms", show_default=True,
    help="How people appear.",
)  # fmt: skip
@click.option("--least", type=click.IntRange(2), default=LEAST, show_default=True,
              help="Jobs below which a person is not shown alone.")  # fmt: skip
@click.option(
    "--prior", multiple=True, metavar="COMPONENT=WEIGHT", help="A stated prior; unnamed=W for the rest."
)
@click.option(
    "--alike", type=click.FloatRange(0.2, 1), default=LIKENESS, show_default=True, metavar="SHARE",
    help="Share of common word pairs from which jobs are told alike.",
)  # fmt: skip
@click.option("--once", is_flag=True, help="Count only the first of jobs told alike.")
@click.option("--csv", "csv", type=_FOLDER, help="Folder for one CSV file a table.")
@click.option("--parquet", type=_FOLDER, help="Folder for one Parquet file a table.")
@click.option("--html", type=click.Path(path_type=Path, dir_okay=False), help="File for the report.")
def command(
    *, people: Any, least: int, prior: tuple[str, ...], alike: float, once: bool, csv: Path | None,
    parquet: Path | None, html: Path | None, **chosen: Any,
) -> None:  # fmt: skip
    """Count what happened in the jobs of a selection (all without one), with intervals.

    Needs narrator[study]. Measures are defined in docs/training.md.
    """
    check_days(chosen["since"], chosen["until"])
    archive = refresh(load_settings().home, _priors(prior), _progress)
    found = study(archive.folder, Selection(**chosen), people, least, likeness=alike, once=once)
    notes = _notes(archive)
    for note in notes:
        click.echo(note, err=True)
    if csv:
        write_csv(found, csv)
    if parquet:
        write_parquet(found, parquet)
    if html:
        write_html(found, notes, html)
    out = console()
    out.print(f"{found.jobs} job(s): {plain(found.of)}")
    for table in found.tables:
        columns, rows = brief(table)
        grid = Grid(*columns, title=table.title, title_justify="left")
        for row in rows:
            grid.add_row(*map(plain, row))
        out.print(grid)


def _priors(given: tuple[str, ...]) -> Priors:
    weights: dict[str, float] = {}
    for text in given:
        name, _, weight = text.partition("=")
        try:
            value = float(weight)
        except ValueError:
            value = 0.0
        if not 0 < value < float("inf"):
            raise NarratorError("E805", given=text)
        weights[name.strip().lower()] = value
    unnamed = weights.pop("unnamed", 1.0)
    return Priors(unnamed, weights or None) if weights or unnamed != 1.0 else EQUAL


def _progress(done: int, of: int) -> None:
    if done % 500 == 0 and sys.stderr.isatty():
        click.echo(f"\rMeasured {done} of {of}", err=True, nl=done == of)


def _notes(archive: Archive) -> list[str]:
    notes, now = [], rules_version()
    if archive.without:
        notes.append(f"{archive.without} session(s) have no record and are left out: run `narrator rebuild`.")
    if archive.odd:
        notes.append(f"{archive.odd} record(s) cannot be read by this version: run `narrator rebuild`.")
    if "invented" in archive.rules:
        notes.append("INVENTED: jobs of a made-up corpus are among these; they teach nothing of the trade.")
    if old := [rules for rules in archive.rules if rules != now]:
        notes.append(
            f"Some records are of other rules ({', '.join(old)}): `narrator rebuild` makes them anew."
        )
    return notes
