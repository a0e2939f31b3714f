"""``narrator strike``: one remark kept off the sheet."""

from __future__ import annotations

import click

from narrator import session as sessions
from narrator.settings import load_settings
from narrator.store import Reader, Writer
from narrator.store.rows import Strike, wall_time


@click.command("strike")
@click.argument("ident", metavar="ID")
@click.argument("utterance", type=int)
@click.option("--who", required=True, help="Who strikes it.")
@click.option("--reason", default="", help="Why.")
@click.option("--undo", is_flag=True, help="Have it back.")
def command(ident: str, utterance: int, who: str, reason: str, undo: bool) -> None:
    """Keep utterance number UTTERANCE of session ID off the sheet, and derive the record again.

    The remark stays in the store and, marked, in the record.
    """
    home = load_settings().home
    with Reader(home) as reader:
        one = reader.resolve(ident)
    with Writer(home) as writer:
        writer.add_strike(one, Strike(utterance, who, wall_time(), reason, struck=not undo))
        sessions.derive(writer, one)
    click.echo(f"Utterance {utterance} of {one} is {'back' if undo else 'struck'}.", err=True)
