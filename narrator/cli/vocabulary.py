"""``narrator vocabulary``: the shop's own words, and what of a sentence is known."""

from __future__ import annotations

import json
import shlex
from dataclasses import asdict

import click

from narrator.cli.terminal import plain
from narrator.hearing.pronounce import parse, pronunciations
from narrator.hearing.spoken import in_words
from narrator.language.shop_words import (
    KINDS,
    add_shop_words,
    make_shop_word,
    remove_shop_word,
    shop_file,
)
from narrator.language.vocabulary import vocabulary
from narrator.language.word_check import check_text
from narrator.settings import load_settings
from narrator.store import Reader as StoreReader
from narrator.training.offers import LEAST, WORD, offers


@click.group("vocabulary")
def command() -> None:
    """The trade's words and the shop's own."""


@command.command("add")
@click.argument("word", nargs=-1, required=True)
@click.option("--kind", type=click.Choice(KINDS), default="component", show_default=True, help="What it is.")
@click.option(
    "--sounds-like", multiple=True, help="What the recognizer makes of it; may be given several times."
)
@click.option(
    "--pronounced",
    multiple=True,
    help="How it is said, in ARPAbet phones with a comma between words: 'F L AA B ER, V AE L V'.",
)
def add(word: tuple[str, ...], kind: str, sounds_like: tuple[str, ...], pronounced: tuple[str, ...]) -> None:
    """Add WORD (one or several words making one name) to the shop's file.

    Both ears listen for it from the next thing said on.
    """
    ways = tuple(", ".join(" ".join(parse(part)) for part in said.split(",")) for said in pronounced)
    added = make_shop_word(" ".join(word), kind, sounds_like, ways)
    path = shop_file()
    words = add_shop_words(path, (added,))
    click.echo(f"{added.name} ({added.kind}) is kept in {path}, {len(words)} in all.")
    said = [pronunciations(part) for part in in_words(added.name).split()]
    if not said:
        click.echo("The ears cannot listen for it: it has no letter of the English alphabet.")
        return
    click.echo("It is said: " + "; ".join(ways or (", ".join(" ".join(w[0]) for w in said if w),)) + ".")


@command.command("remove")
@click.argument("word", nargs=-1, required=True)
def remove(word: tuple[str, ...]) -> None:
    """Take WORD out of the shop's file again; what was heard before stays as it is."""
    path = shop_file()
    left = remove_shop_word(path, " ".join(word))
    click.echo(f"{' '.join(word)} is taken out of {path}, {len(left)} left.")


@command.command("check")
@click.argument("text", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def check(text: tuple[str, ...], as_json: bool) -> None:
    """Tell what of TEXT is known, unknown or would be repaired."""
    found = check_text(" ".join(text))
    if as_json:
        click.echo(json.dumps(found.as_dict(), ensure_ascii=False, indent=1))
        return
    for heard, meant, rule in found.repaired:
        click.echo(f"repaired  {heard} -> {meant}  ({rule})")
    for name, kind, standard in found.known:
        click.echo(f"{kind:<9} {name}" + (f"  = {standard}" if standard else ""))
    for word in found.unknown:
        click.echo(f"unknown   {word}")
    if not (found.repaired or found.known or found.unknown):
        click.echo("Only common words.")


@command.command("offers")
@click.option("--least", type=click.IntRange(1), default=LEAST, show_default=True,
              help="Jobs in which a word must have been heard; one correction is enough.")  # fmt: skip
@click.option("--most", type=click.IntRange(1), default=50, show_default=True, help="Words shown at most.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def offer_words(least: int, most: int, as_json: bool) -> None:
    """Offer words heard in the kept jobs that no list holds, as lines that add them.

    Parts, tools and materials that no list holds, words that are no English, and what was written in a
    correction. Each line can be run as it is; the remark above tells where the word was heard. A "word" may
    be anything: mend its --kind, or leave it.
    """
    with StoreReader(load_settings().home) as reader:
        found = offers(reader, least)
    if as_json:
        click.echo(json.dumps([asdict(one) for one in found[:most]], ensure_ascii=False, indent=1))
        return
    for one in found[:most]:
        often = f"{one.kind}, said in {one.jobs} job(s), {one.times} time(s)"
        written = f", written in {one.corrected} correction(s)" if one.corrected else ""
        click.echo(f"# {often}{written}: {one.session}#{one.utterance} {plain(one.example)!r}")
        sounds = [part for was in one.heard for part in ("--sounds-like", was)]
        line = [
            "narrator",
            "vocabulary",
            "add",
            *one.name.split(),
            "--kind",
            KINDS[0] if one.kind == WORD else one.kind,
        ]
        line += sounds
        click.echo(plain(shlex.join(line)))
    click.echo(f"{len(found)} word(s) to offer, {min(most, len(found))} shown.", err=True)


@command.command("list")
@click.option("--kind", type=click.Choice(KINDS), help="Only this kind.")
@click.option("--shop", is_flag=True, help="Only the shop's own words.")
def list_words(kind: str | None, shop: bool) -> None:
    """List the words, one a line: kind, name, other names of the same thing."""
    others: dict[tuple[str, str, str], list[str]] = {}
    for entry in vocabulary(fresh=True).entries:
        if (kind and entry.kind != kind) or (shop and entry.group != "shop"):
            continue
        names = others.setdefault((entry.kind, entry.lead, entry.group), [])
        if entry.name != entry.lead:
            names.append(entry.name)
    for (sort, lead, _), names in sorted(others.items()):
        click.echo("\t".join([sort, lead, ", ".join(names)]).rstrip())
