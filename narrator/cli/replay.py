"""``narrator replay``: learn from a job, one decision at a time."""

from __future__ import annotations

from pathlib import Path

import click
from rich.text import Text

from narrator.cli.terminal import clock, console, plain
from narrator.errors import NarratorError
from narrator.session import current_record
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.training.lesson import case_sheet, clip, keep_answers
from narrator.training.replay import QUESTIONS, decisions


@click.command("replay")
@click.argument("ident", metavar="ID")
@click.option("--who", default="", help="Name under which the answers are kept; nothing is kept without one.")
@click.option(
    "--clips",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the sound up to each decision.",
)
@click.option(
    "--sheet",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write a case sheet to print (Markdown), and ask nothing.",
)
def command(*, ident: str, who: str, clips: Path | None, sheet: Path | None) -> None:
    """Tell job ID up to each decision, ask, then tell what happened.

    Answers are kept under --who in the folder lessons of the home.
    """
    home = load_settings().home
    with Reader(home) as reader:
        session = reader.resolve(ident)
        facts = reader.facts(session)
    record = current_record(home, session)
    stops = decisions(record)
    if not stops:
        raise NarratorError("E806", session=session)
    if sheet:
        try:
            sheet.write_text(case_sheet(record, f"job {session[-4:]}"), encoding="utf-8")
        except OSError as error:
            raise NarratorError("E501", path=sheet, why=error.strerror or error) from error
        return
    out = console()
    answers: dict[int, dict[str, str]] = {}
    for stop in stops:
        for row in stop.lines:
            out.print(Text.assemble((f"{clock(row.start):>7}  ", "dim"), plain(row.clean)), soft_wrap=True)
        if clips and (made := clip(home, session, facts.sounds, stop, clips)):
            click.echo(f"Sound: {made}", err=True)
        out.print(f"Open suspects: {plain(', '.join(stop.open) or 'none named yet')}", style="bold")
        answers[stop.number] = {
            q: click.prompt(q, default="", show_default=False, err=True) for q in QUESTIONS
        }
        out.print("What happened:", style="bold")
        for row in stop.happened:
            out.print(Text.assemble((f"{clock(row.start):>7}  ", "dim"), plain(row.clean)), soft_wrap=True)
    if who:
        click.echo(f"Kept: {keep_answers(home, session, who, answers)}", err=True)
