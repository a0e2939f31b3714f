"""``narrator rebuild``: records made anew from facts."""

from __future__ import annotations

import click

from narrator import session as sessions
from narrator.settings import load_settings
from narrator.store import Reader, Writer


@click.command("rebuild")
@click.argument("ident", metavar="[ID]", required=False)
def command(ident: str | None) -> None:
    """Derive the record of session ID (all without one) again from what was heard and corrected.

    Prints each id, the record's SHA-256, and whether it is the same as before. The same facts and
    rules give the same bytes.
    """
    home = load_settings().home
    with Reader(home) as reader:
        chosen = [reader.resolve(ident)] if ident else [row.id for row in reader.sessions()]
        before = {one: reader.record(one) for one in chosen}
    with Writer(home) as writer:
        for one in chosen:
            old, new = before[one], sessions.derive(writer, one)
            state = "new" if old is None else "same" if old.text == new.text else "changed"
            click.echo(f"{one}  {new.sha256}  {state}")
