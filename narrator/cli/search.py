"""``narrator search``: where something was said, or in which jobs something happened."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click
from rich.text import Text

from narrator.cli.asked import Day, System
from narrator.cli.terminal import clock, console, plain, with_hits
from narrator.settings import load_settings
from narrator.store.finding import OUTCOMES, STATUS, Answer, Wanted
from narrator.store.results import Result
from narrator.store.review import ReviewReader
from narrator.store.rows import HIT_END, HIT_START, Hit
from narrator.training.searches import find_jobs, forget_search, keep_search, saved_search, saved_searches

_CONDITIONS: tuple[Callable[[Any], Any], ...] = (
    click.option("--concern", default="", help="Words of a line that tells the concern."),
    click.option("--suspected", default="", help="Words of a suspect (component, fault)."),
    click.option("--ended", default="", type=click.Choice(["", *STATUS]), help="How the suspect ended."),
    click.option("--confirmed", default="", help="Words of a confirmed cause."),
    click.option("--tested", default="", help="Words of a test (what was done, to what, what came of it)."),
    click.option("--outcome", default="", type=click.Choice(["", *OUTCOMES]), help="How that test came out."),
    click.option("--fitted", default="", help="Part that was fitted."),
    click.option("--code", default="", help="Trouble code named; P03* for all that begin so."),
    click.option("--no-code", is_flag=True, help="No trouble code was named."),
    click.option(
        "--verified", default="", type=click.Choice(["", "pass", "fail"]), help="How the last check went."
    ),
    click.option("--vehicle", default="", help="Part of year, make and model."),
    click.option(
        "--system",
        default="",
        type=System(),
        help="System to which a suspect belongs (brakes, fuel, wiring ...).",
    ),
    click.option("--person", default="", help="Who spoke, as kept with the utterances."),
    click.option("--since", default="", type=Day(), help="First day (2031-03-04)."),
    click.option("--until", default="", type=Day(), help="Last day."),
)


def conditions(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a structured search to a command."""
    for option in reversed(_CONDITIONS):
        function = option(function)
    return function


@click.command("search", context_settings={"ignore_unknown_options": True})
@click.argument("words", nargs=-1)
@conditions
@click.option("--save", metavar="NAME", help="Keep this search under a name.")
@click.option("--saved", metavar="NAME", help="Ask a kept search; further options are added to it.")
@click.option("--list", "listing", is_flag=True, help="List the kept searches.")
@click.option("--drop", metavar="NAME", help="Forget a kept search.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of lines.")
@click.option("--most", default=200, show_default=True, type=click.IntRange(1), help="Lines shown at most.")
def command(
    *, words: tuple[str, ...], save: str | None, saved: str | None, listing: bool, drop: str | None,
    as_json: bool, most: int, **asked: Any,
) -> None:  # fmt: skip
    """Find lines in which all WORDS occur, or jobs in which something happened.

    WORDS alone give lines, as heard or as read. With any option jobs are found that have all that is
    asked, in which one line has the WORDS: narrator search --suspected alternator --ended cleared.

    "two words" inside quotes stay together; alter* finds every word that begins so. Endings are
    forgiven: bolt finds bolts.
    """
    home = load_settings().home
    if listing or drop:
        _kept(home, drop)
        return
    wanted = _wanted(home, words, saved, save, asked)
    if save:
        keep_search(home, save, wanted)
    with ReviewReader(home) as reader:
        if wanted.empty:
            _lines(reader.search(" ".join(words), most), as_json)
        else:
            answer = find_jobs(reader, wanted, most)
            _jobs(answer, None if as_json else reader.results(answer))


def _kept(home: Path, drop: str | None) -> None:
    if drop:
        forget_search(home, drop)
    for name, kept in saved_searches(home).items():
        click.echo(f"{name}  {json.dumps(kept.given(), ensure_ascii=False)}")


def _wanted(
    home: Path, words: tuple[str, ...], saved: str | None, save: str | None, asked: dict[str, Any]
) -> Wanted:
    """What is asked for; words alone, not to be saved, are a search for lines and want no jobs."""
    before = saved_search(home, saved).given() if saved else {}
    given = before | {name: value for name, value in asked.items() if value}
    if words and (given or save):
        given["said"] = " ".join(words)
    return Wanted(**given)


def _lines(hits: list[Hit], as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps([_row(hit) for hit in hits], indent=1, ensure_ascii=False))
        return
    out = console()
    for hit in hits:
        lead = Text.assemble(
            (hit.session, "cyan"), f"  {clock(hit.start):>7}  ", (f"#{hit.utterance:<4} ", "dim")
        )
        out.print(lead + with_hits(hit.line), soft_wrap=True)
    if not hits:
        click.echo("Nothing found.", err=True)


def _row(hit: Hit) -> dict[str, object]:
    return asdict(hit) | {"line": hit.line.replace(HIT_START, "").replace(HIT_END, "")}


def _jobs(answer: Answer, results: tuple[Result, ...] | None) -> None:
    """Jobs with the lines that met what was asked; as JSON where no results are given."""
    if results is None:
        click.echo(json.dumps(asdict(answer), indent=1, ensure_ascii=False))
        return
    out = console()
    for job in results:
        out.print(Text.assemble((job.session, "cyan"), f"  {job.started[:10]}  ", plain(job.vehicle or "")))
        for one in job.lines:
            about = f"  ({plain(one.what)})" if one.what else ""
            lead = (f"    {clock(one.start):>7}  #{one.utterance:<4} ", "dim")
            out.print(Text.assemble(lead, plain(one.line), (about, "dim")), soft_wrap=True)
    shown = f", {len(answer.jobs)} shown" if len(answer.jobs) < answer.count else ""
    click.echo(f"{answer.count} job(s) found{shown}.", err=True)
