"""``narrator search``: where something was said."""

from __future__ import annotations

import json
from dataclasses import asdict

import click
from rich.text import Text

from narrator.cli.terminal import clock, console, with_hits
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.store.rows import HIT_END, HIT_START, Hit


@click.command("search", context_settings={"ignore_unknown_options": True})
@click.argument("words", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print a JSON list instead of lines.")
@click.option("--most", default=200, show_default=True, type=click.IntRange(1), help="Lines shown at most.")
def command(words: tuple[str, ...], as_json: bool, most: int) -> None:
    """Find lines in which all WORDS occur, as heard or as read.

    "two words" inside quotes stay together; alter* finds every word that begins so. Endings are
    forgiven: bolt finds bolts.
    """
    with Reader(load_settings().home) as reader:
        hits = reader.search(" ".join(words), most)
    if as_json:
        click.echo(json.dumps([_row(hit) for hit in hits], indent=1, ensure_ascii=False))
        return
    out = console()
    for hit in hits:
        lead = Text.assemble(
            (hit.session, "cyan"), f"  {clock(hit.start):>7}  ", (f"#{hit.utterance:<4} ", "dim")
        )
        out.print(lead + with_hits(hit.line), soft_wrap=True)
    if not hits:
        click.echo("Nothing found.", err=True)


def _row(hit: Hit) -> dict[str, object]:
    return asdict(hit) | {"line": hit.line.replace(HIT_START, "").replace(HIT_END, "")}
