"""``narrator rehear``: the kept sound heard anew, into files beside the store."""

from __future__ import annotations

from pathlib import Path

import click

from narrator.archive.rehearing import done, rehear, sounding
from narrator.archive.spread import Workers
from narrator.cli.spreading import spreading
from narrator.errors import NarratorError
from narrator.settings import load_settings
from narrator.store import Reader


@click.command("rehear")
@click.argument("idents", metavar="[ID]...", nargs=-1)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), required=True,
              help="Folder for ID.jsonl (utterances) and ID.json (their record).")  # fmt: skip
@click.option("--engine", help="Recognizer, as for `narrator hear`; by default that of the settings.")
@click.option("--again", is_flag=True, help="Hear those again that are in the folder already.")
@spreading
def command(idents: tuple[str, ...], out: Path, engine: str | None, again: bool, workers: Workers) -> None:
    """Hear the kept sound of sessions (all that have sound without an ID) with the recognizer of today.

    What was heard before stays in the store. Prints each id, the SHA-256 of both files, and the share of
    words that differ from what is kept. Sessions in the folder already are left out, so that work that was
    broken off goes on. Workers of other machines need the home under the same path.
    """
    home = load_settings().home
    with Reader(home) as reader:
        chosen = [reader.resolve(one) for one in idents] or reader.every()
    there = sounding(home, chosen)
    if silent := [one for one in chosen if one not in set(there)]:
        if idents:
            raise NarratorError("E823", session=silent[0])
        click.echo(f"{len(silent)} session(s) have no sound and are left out.", err=True)
    wanted = [one for one in there if again or not done(out, one)]
    if len(wanted) < len(there):
        click.echo(f"{len(there) - len(wanted)} are in {out} already.", err=True)
    for one in rehear(home, wanted, out, workers, engine):
        differs = "-" if one.differs is None else f"{one.differs:.1%}"
        click.echo(f"{one.session}  {one.sha256}  {differs}")
