"""``narrator correct``: a person's better reading of one utterance."""

from __future__ import annotations

import click

from narrator import session as sessions
from narrator.settings import load_settings
from narrator.store import Reader, Writer
from narrator.store.rows import wall_time
from narrator.values import Correction


@click.command("correct")
@click.argument("ident", metavar="ID")
@click.argument("utterance", type=int)
@click.argument("text")
@click.option("--who", required=True, help="Who corrects.")
@click.option("--reason", default="", help="Why.")
def command(ident: str, utterance: int, text: str, who: str, reason: str) -> None:
    """Read utterance number UTTERANCE of session ID as TEXT, and derive the record again.

    What was heard is kept beside it; of several corrections the latest counts.
    """
    home = load_settings().home
    with Reader(home) as reader:
        one = reader.resolve(ident)
    with Writer(home) as writer:
        writer.add_correction(one, Correction(utterance, text, who, wall_time(), reason))
        sessions.derive(writer, one)
    click.echo(f"Utterance {utterance} of {one} is corrected.", err=True)
