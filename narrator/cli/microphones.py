"""``narrator microphones``: the sound inputs, and a look at how loud one is."""

from __future__ import annotations

import json
import sys
import time
from dataclasses import asdict

import click
from rich.table import Table

from narrator.cli.terminal import console, plain
from narrator.hearing import portaudio
from narrator.hearing.capture import Capture
from narrator.hearing.level import Level
from narrator.settings import load_settings


@click.command("microphones")
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list instead of a table.")
@click.option("--try", "seconds", type=click.FloatRange(0.5), help="Show the level for so many seconds.")
@click.option("--microphone", help="Which one to try; by default the settings' or the system's.")
def command(as_json: bool, seconds: float | None, microphone: str | None) -> None:
    """List the microphones by the names that the setting `microphone` takes."""
    if seconds is not None:
        _try(microphone or load_settings().microphone or None, seconds)
        return
    found = portaudio.inputs()
    if as_json:
        click.echo(json.dumps([asdict(one) for one in found], indent=1, ensure_ascii=False))
    elif found:
        table = Table(box=None, pad_edge=False)
        for column in ("name", "channels", "rate", ""):
            table.add_column(column)
        for one in found:
            row = (plain(one.name), str(one.channels), f"{one.rate} Hz", "default" if one.default else "")
            table.add_row(*row)
        console().print(table)
    else:
        click.echo("No microphone is there.", err=True)


def _try(name: str | None, seconds: float) -> None:
    """Show the level of one microphone; nothing is kept."""
    capture = Capture(portaudio.PortAudio(), name)
    loudest = Level()
    clipped = False
    until = time.monotonic() + seconds
    for _ in capture:
        level = capture.meter.level
        loudest = max(loudest, level, key=lambda one: one.peak)
        clipped |= level.clipping
        if sys.stderr.isatty():
            click.echo(f"\r{bar(level)}", nl=False, err=True)
        if time.monotonic() > until:
            capture.stop()
    click.echo("", err=True)
    words = "cut off: turn it down" if clipped else "dead" if level.dead else verdict(loudest.peak)
    click.echo(f"{capture.name}: loudest {loudest.peak:.0f} dB of full scale ({words})")


def bar(level: Level, width: int = 40) -> str:
    """The level between -60 and 0 dB as a line of blocks."""
    full = round(width * min(1.0, max(0.0, (level.peak + 60) / 60)))
    warning = " CUT OFF" if level.clipping else "        "
    return f"{'█' * full}{'░' * (width - full)} {level.peak:5.0f} dB{warning}"


def verdict(peak: float) -> str:
    """What to make of the loudest moment of speech."""
    return "too quiet" if peak < -40 else "good" if peak < -3 else "very loud"
