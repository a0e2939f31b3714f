"""``narrator insert``: a line that was not said, told later or lost from the sound."""

from __future__ import annotations

import click

from narrator import session as sessions
from narrator.settings import load_settings
from narrator.store import Reader, Writer
from narrator.store.rows import wall_time


@click.command("insert")
@click.argument("ident", metavar="ID")
@click.argument("after", type=int)
@click.argument("text")
@click.option("--who", required=True, help="Who adds it.")
@click.option("--reason", default="", help="Why.")
def command(ident: str, after: int, text: str, who: str, reason: str) -> None:
    """Add TEXT to session ID as a line after utterance number AFTER, and derive the record again.

    AFTER 0 is before all that was said. The line is understood like any other and marked for good as added
    and not said. `narrator correct` rewords it, `narrator strike` takes it back.
    """
    home = load_settings().home
    with Reader(home) as reader:
        one = reader.resolve(ident)
    with Writer(home) as writer:
        number = writer.add_line(one, after, text, who=who, when=wall_time(), reason=reason)
        sessions.derive(writer, one)
    click.echo(f"Utterance {number} was added to {one}.", err=True)
