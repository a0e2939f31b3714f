"""``narrator forget``: a session removed for good."""

from __future__ import annotations

import click

from narrator.cli.terminal import clock, plain
from narrator.settings import load_settings
from narrator.store import Reader, Writer


@click.command("forget")
@click.argument("ident", metavar="ID")
@click.option("--yes", is_flag=True, help="Do not ask.")
def command(ident: str, yes: bool) -> None:
    """Remove session ID for good: its sound, its text and everything derived from them.

    Sheets and exports written elsewhere, and backups, are not touched.
    """
    home = load_settings().home
    with Reader(home) as reader:
        one = reader.resolve(ident)
        row = next(row for row in reader.sessions() if row.id == one)
    what = (
        f"{one} ({plain(row.vehicle or 'vehicle not named')}, {plain(row.started[:16].replace('T', ' '))}, "
    )
    what += f"{row.utterances} utterances, {clock(row.audio_seconds or row.spoken_until)})"
    if not yes:
        click.confirm(f"Forget session {what}? It cannot be brought back", abort=True, err=True)
    with Writer(home) as writer:
        writer.forget(one)
    click.echo(f"Forgotten: {what}", err=True)
