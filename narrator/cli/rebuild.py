"""``narrator rebuild``: records made anew from facts."""

from __future__ import annotations

import click

from narrator.archive.rebuilding import rebuild
from narrator.archive.spread import Workers
from narrator.cli.spreading import spreading
from narrator.settings import load_settings
from narrator.store import Reader


@click.command("rebuild")
@click.argument("ident", metavar="[ID]", required=False)
@spreading
def command(ident: str | None, workers: Workers) -> None:
    """Derive the record of session ID (all without one) again from what was heard and corrected.

    Prints each id, the record's SHA-256, and whether it is the same as before. The same facts and
    rules give the same bytes, with workers or without.
    """
    home = load_settings().home
    with Reader(home) as reader:
        chosen = [reader.resolve(ident)] if ident else reader.every()
    for one in rebuild(home, chosen, workers):
        click.echo(f"{one.session}  {one.sha256}  {one.state}")
