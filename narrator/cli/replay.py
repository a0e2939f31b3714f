"""``narrator replay``: learn from a job, one decision at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

import click
from rich.console import Console
from rich.text import Text

from narrator.cli.terminal import clock, console, plain
from narrator.errors import NarratorError
from narrator.hearing.portaudio import play
from narrator.job.record import Record, UtteranceRow
from narrator.session import current_record
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.store.rows import Facts
from narrator.training.casesheet import case_page, settled
from narrator.training.lesson import Kept, case_sheet, clip, keep_answers, kept_answers
from narrator.training.replay import QUESTIONS, Decision, decisions
from narrator.training.sound import stretch
from narrator.training.teaching import cleaner_for


@click.command("replay")
@click.argument("ident", metavar="ID")
@click.option("--who", default="", help="Name under which the answers are kept; nothing is kept without one.")
@click.option("--silent", is_flag=True, help="Do not play the sound up to each decision.")
@click.option("--answers", is_flag=True, help="Show what everybody answered, and ask nothing.")
@click.option(
    "--clips",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the sound up to each decision.",
)
@click.option(
    "--sheet",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write a case sheet to print (.html, else Markdown), and ask nothing.",
)
@click.option("--name", "names", multiple=True, help="With --sheet: a further name to take out; repeatable.")
def command(
    *,
    ident: str,
    who: str,
    silent: bool,
    answers: bool,
    clips: Path | None,
    sheet: Path | None,
    names: tuple[str, ...],
) -> None:
    """Tell and play job ID up to each decision, ask, then tell what happened.

    Answers are kept under --who in the folder lessons of the home, each as soon as it is given. Ctrl-C ends
    the sound that is being played; at a question it ends the lesson. Names of speakers, plates and VINs are
    taken out of a case sheet.
    """
    home = load_settings().home
    with Reader(home) as reader:
        facts = reader.facts(reader.resolve(ident))
    session = facts.session.id
    record = current_record(home, session)
    stops = decisions(record)
    if not stops:
        raise NarratorError("E806", session=session)
    if sheet:
        _sheet(record, facts, sheet, names)
        return
    out = console()
    if answers:
        _answered(out, stops, list(kept_answers(home, session)))
        return
    play_it = _player(home, facts, silent)
    told: set[int] = set()
    for stop in stops:
        _tell(out, (row for row in stop.lines if row.id not in told))
        if clips and (made := clip(home, session, facts.sounds, stop, clips)):
            click.echo(f"Sound: {made}", err=True)
        play_it(stop)
        out.print(f"Open suspects: {plain(', '.join(stop.open) or 'none named yet')}", style="bold")
        given = {q: click.prompt(q, default="", show_default=False, err=True) for q in QUESTIONS}
        if who:
            keep_answers(home, session, who, {stop.number: given})
        out.print("What happened:", style="bold")
        _tell(out, stop.happened)
        told |= {row.id for row in stop.happened}
    out.print(plain(settled(record)), style="bold")
    if who:
        click.echo(f"Kept: {home / 'lessons' / session}.jsonl", err=True)


def _tell(out: Console, rows: Iterable[UtteranceRow]) -> None:
    for row in rows:
        out.print(Text.assemble((f"{clock(row.start):>7}  ", "dim"), plain(row.told)), soft_wrap=True)


def _answered(out: Console, stops: list[Decision], kept: list[Kept]) -> None:
    """At each decision what everybody answered, then what happened."""
    for stop in stops:
        out.print(
            f"{stop.number}. Open suspects: {plain(', '.join(stop.open) or 'none named yet')}", style="bold"
        )
        for one in kept:
            for question, answer in one.answers.get(stop.number, {}).items():
                out.print(
                    f"    {plain(one.who)}, {one.when[:10]}: {question} {plain(answer) or '-'}",
                    soft_wrap=True,
                )
        out.print("What happened:")
        _tell(out, stop.happened)
    if not kept:
        click.echo("Nobody's answers are kept for this job.", err=True)


def _player(home: Path, facts: Facts, silent: bool) -> Callable[[Decision], None]:
    """What plays the sound up to a decision, and says once why it cannot."""
    able = not silent
    if able and not facts.sounds:
        click.echo("No sound of this job was kept.", err=True)
        able = False

    def played(stop: Decision) -> None:
        """Play the sound up to ``stop``; after a failure, which is told once, do nothing."""
        nonlocal able
        found = stretch(home, facts.session.id, facts.sounds, stop.start, stop.end) if able else None
        if not found:
            return
        try:
            able = play(*found)
        except KeyboardInterrupt:
            click.echo("Sound ended.", err=True)
        if not able:
            click.echo("The sound cannot be played here; the lesson goes on without (see --clips).", err=True)

    return played


def _sheet(record: Record, facts: Facts, path: Path, names: tuple[str, ...]) -> None:
    cleaner = cleaner_for(record, [u.speaker for u in facts.utterances if u.speaker], names)
    made = case_page if path.suffix.lower() in (".html", ".htm") else case_sheet
    try:
        path.write_text(made(record, f"job {facts.session.id[-4:]}", cleaner.text), encoding="utf-8")
    except OSError as error:
        raise NarratorError("E501", path=path, why=error.strerror or error) from error
