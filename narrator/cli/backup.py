"""``narrator backup``: a copy of the database in one file."""

from __future__ import annotations

from pathlib import Path

import click

from narrator.settings import load_settings
from narrator.store import Reader


@click.command("backup")
@click.argument("target", metavar="FILE", type=click.Path(path_type=Path, dir_okay=False))
def command(target: Path) -> None:
    """Write a copy of the database to a new FILE, also while a session is being recorded.

    To go back to it, put it in the place of narrator.db. Sound lies in files of its own and is not in it.
    """
    with Reader(load_settings().home) as reader:
        reader.backup(target)
    click.echo(f"Written: {target}", err=True)
