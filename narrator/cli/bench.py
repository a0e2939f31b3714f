"""``narrator bench``: how fast and how well this machine hears and understands the sample sessions."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import TypeVar

import click
from rich.table import Table

from narrator import bench
from narrator.bench import Hearing, Understanding
from narrator.cli.terminal import console
from narrator.errors import NarratorError

T = TypeVar("T", Hearing, Understanding)
_NONE = "-"


@click.command("bench")
@click.option("--engine", "engines", multiple=True, default=("auto",), show_default=True,
              help="Recognizer to measure; may be given several times.")  # fmt: skip
@click.option("--hours", multiple=True, type=click.FloatRange(min=0.01),
              help="Also a session of so many hours; may be given several times.")  # fmt: skip
@click.option("--no-hearing", is_flag=True, help="Measure the understanding only.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON Lines, each as soon as it is known.")
def command(engines: tuple[str, ...], hours: tuple[float, ...], no_hearing: bool, as_json: bool) -> None:
    """Measure recognition (real-time factor, word error rate) and understanding on the sample sessions.

    A session of several hours takes its time: one hour of sound is heard in a few minutes.
    """
    wanted = () if no_hearing else engines
    heard = _shown((row for engine in wanted for row in _heard(engine, hours)), as_json)
    if heard and not as_json:
        console().print(_hearing(heard))
    compiled = _shown(map(_compiled, hours or (0.25,)), as_json)
    if not as_json:
        console().print(_understanding(compiled))


def _shown(rows: Iterable[T], as_json: bool) -> list[T]:
    """All rows; as JSON each is printed as soon as it is measured, so that a long run loses nothing."""
    found = []
    for row in rows:
        found.append(row)
        if as_json:
            click.echo(json.dumps({"what": type(row).__name__.lower()} | asdict(row)))
    return found


def _heard(engine: str, hours: tuple[float, ...]) -> Iterator[Hearing]:
    """Every sound by one engine; an engine that cannot run is told of and left out."""
    try:
        for folder in bench.samples():
            click.echo(f"{engine}: {folder.name} ...", err=True)
            yield bench.hear_sample(folder, engine)
        for number in hours:
            click.echo(f"{engine}: {number:g} h ...", err=True)
            yield bench.hear_long(number, engine)
    except NarratorError as error:
        click.echo(str(error), err=True)


def _compiled(hours: float) -> Understanding:
    click.echo(f"compiling {hours:g} h ...", err=True)
    return bench.compile_long(hours)


def _hearing(rows: list[Hearing]) -> Table:
    table = Table(title="Hearing")
    for name in ("sound", "engine", "seconds", "utterances", "RTF", "RTF (CPU)", "peak MiB", "WER", "words"):
        table.add_column(name, justify="left" if name in {"sound", "engine"} else "right")
    for row in rows:
        table.add_row(
            row.sound, row.engine, f"{row.audio:.0f}", str(row.utterances), f"{row.rtf:.3f}",
            f"{row.cpu_rtf:.3f}", _mib(row.peak), _NONE if row.wer is None else f"{row.wer:.1%}",
            str(row.words or _NONE),
        )  # fmt: skip
    return table


def _understanding(rows: list[Understanding]) -> Table:
    table = Table(title="Understanding")
    for name in ("session", "utterances", "compile s", "peak MiB", "utterances/s when loaded"):
        table.add_column(name, justify="right")
    for row in rows:
        table.add_row(
            f"{row.hours:g} h",
            str(row.utterances),
            f"{row.seconds:.2f}",
            _mib(row.peak),
            f"{row.per_second:.0f}",
        )
    return table


def _mib(peak: float | None) -> str:
    return _NONE if peak is None else f"{peak:.0f}"
