"""``narrator explain``: why the record says what it says."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from narrator.cli.terminal import clock, plain
from narrator.errors import NarratorError
from narrator.explain import explain
from narrator.session import as_read
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.utterances import parse_lines
from narrator.values import Utterance

Row = dict[str, Any]
_LINES = {".jsonl", ".ndjson"}


@click.command("explain")
@click.argument("source", metavar="ID|JSONL")
@click.option("--utterance", "number", type=int, help="Only what this utterance gave, by its number.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as one JSON object.")
def command(source: str, number: int | None, as_json: bool) -> None:
    """Show for every derived value the words it came from and the rule or model that made it.

    The source is a kept session's id, or utterances as JSON Lines (.jsonl, or - for standard input). Each
    line is shown with its acts, cues, entities, repairs and looks, then each value of the record with the
    lines that made it.
    """
    said = list(_said(source))
    if number is not None and number not in {one.id for one in said}:
        raise NarratorError("E403", source=source, utterance=number)
    found = explain(said, number)
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
        return
    click.echo(f"rules {found['rules']}")
    for row in found["utterances"]:
        click.echo("\n" + "\n".join(map(plain, _utterance(row))))
    for row in found["values"]:
        click.echo("\n" + "\n".join(map(plain, _value(row))))


def _said(source: str) -> Iterator[Utterance]:
    if source != "-" and Path(source).suffix.lower() not in _LINES:
        with Reader(load_settings().home) as reader:
            yield from as_read(reader.facts(reader.resolve(source)))
        return
    try:
        with click.open_file(source, encoding="utf-8", errors="replace") as lines:
            yield from parse_lines(lines)
    except OSError as error:
        raise NarratorError("E101", path=source) from error


def _utterance(row: Row) -> Iterator[str]:
    yield f"#{row['id']}  {clock(row['start'])}  {row['text']}"
    if row["clean"] != row["text"]:
        yield f"    read as    {row['clean']}"
    for one in row["repairs"]:
        yield f"    repair     {one['heard']} -> {one['meant']}  ({one['rule']}, {one['score']:.2f})"
    for one in row["acts"]:
        spoke = ", ".join(f"{name} {weight:+.1f}" for name, weight in one.get("for", ()))
        yield f"    act        {one['act']}  ({one['by']}{': ' + spoke if spoke else ''})"
    for one in row["cues"]:
        pattern = f"  ({one['pattern']})" if one["pattern"] != one["words"].lower() else ""
        yield f"    cue        {one['cue']}  “{one['words']}”{pattern}"
    for one in row["entities"]:
        fields = {
            k: v for k, v in one.items() if k not in ("type", "span", "rule", "words") and v is not None
        }
        yield f"    entity     {one['type']} {_fields(fields)}  “{one['words']}”  ({one['rule']})"
    for one in row["looks"]:
        yield f"    look       {one['kind']}: {one['reason']}  “{one['words']}”"


def _value(row: Row) -> Iterator[str]:
    yield f"{row['list']}: {_fields(row['value'])}"
    if made := row.get("outcome"):
        spoke = [f"{name} {weight:+.1f}" for name, weight in (*made["context"], *made["said"])]
        yield f"    outcome by model {made['odds']:+.1f}: {', '.join(spoke)}"
    for one in row["from"]:
        what = one.get("status") or one.get("evidence") or ""
        test = f" by {one['test']}" if one.get("test") else ""
        yield f"    {(what + test + ' ') if what else ''}#{one['utterance']}  {one['words']}"
        askers: dict[str, list[str]] = {}
        for reason in one["because"]:
            kind = next(k for k in ("act", "cue", "entity") if k in reason)
            words = f" “{reason['words']}”" if "words" in reason else ""
            askers.setdefault(reason["by"], []).append(f"{kind} {reason[kind]}{words}")
        for by, reasons in askers.items():
            yield f"        {by}: {'; '.join(reasons)}"


def _fields(value: Row) -> str:
    return ", ".join(f"{k} {_field(v)}" for k, v in value.items())


def _field(value: object) -> str:
    if isinstance(value, dict):
        return " ".join(str(v) for v in value.values() if v is not None)
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)
