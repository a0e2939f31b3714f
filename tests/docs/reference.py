"""Write the reference parts of the docs from the program itself: ``python -m tests.docs.reference``.

A page keeps its prose; what stands between ``<!-- begin NAME -->`` and ``<!-- end NAME -->`` is made here,
and a test compares it.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click

from narrator.cli import cli
from narrator.errors import CATALOGUE
from narrator.settings import Settings

DOCS = Path(__file__).parents[2] / "docs"
_ROOMS = {
    "1": "Sound files", "2": "Engines and models", "3": "The store", "4": "Utterances and records",
    "5": "Sheets and exports", "6": "Listening", "7": "The review page", "8": "Training and benchmarks",
    "9": "Settings and vocabulary",
}  # fmt: skip


def all_commands() -> Iterator[tuple[str, click.Command]]:
    """Every command with its full name (``models install``), groups before what is in them."""
    context = click.Context(cli)
    for name in cli.list_commands(context):
        found = cli.get_command(context, name)
        assert found is not None
        yield from _with_inner(name, found)


def _with_inner(name: str, command: click.Command) -> Iterator[tuple[str, click.Command]]:
    yield name, command
    if isinstance(command, click.Group):
        for inner in sorted(command.commands):
            yield from _with_inner(f"{name} {inner}", command.commands[inner])


def commands() -> str:
    """Usage, help and options of every command."""
    return "\n".join(line for name, command in all_commands() for line in _command(name, command)).strip()


def _command(name: str, command: click.Command) -> Iterator[str]:
    yield f"## narrator {name}\n"
    yield f"    {' '.join(['narrator', name, *_usage(command)])}\n"
    yield f"{_text(command.help)}\n"
    options = [p for p in command.params if isinstance(p, click.Option) and not p.hidden]
    if options:
        yield "| option | meaning |\n| --- | --- |"
        yield from (f"| {_named(one)} | {_cell(_meaning(one))} |" for one in options)
        yield ""


def _usage(command: click.Command) -> Iterator[str]:
    if any(isinstance(p, click.Option) for p in command.params):
        yield "[OPTIONS]"
    for one in command.params:
        if isinstance(one, click.Argument):
            name = (one.metavar or (one.name or "").upper()).strip("[]")
            name += "..." if one.nargs != 1 else ""
            yield name if one.required else f"[{name}]"
    if isinstance(command, click.Group):
        yield "[COMMAND]" if command.invoke_without_command else "COMMAND"


def _named(option: click.Option) -> str:
    """``--engine TEXT``; both ways of a switch that has two."""
    names = ", ".join(f"`{name}`" for name in (*option.opts, *option.secondary_opts))
    if option.is_flag or option.count:
        return names
    kind = option.type
    value = r"\|".join(map(str, kind.choices)) if isinstance(kind, click.Choice) else option.metavar
    return f"{names} {value or kind.name.upper()}"


def _meaning(option: click.Option) -> str:
    text = _text(option.help)
    given = option.default if isinstance(option.default, (str, int, float, tuple)) else None
    if option.show_default and given not in (None, ()):
        shown = ", ".join(map(str, given)) if isinstance(given, tuple) else str(given)
        text += f" Default: {shown}."
    return f"{text} Required." if option.required else text


def settings() -> str:
    """Every setting, its variable, what it is without being set, and what it means."""
    rows = ["| setting | variable | default | meaning |", "| --- | --- | --- | --- |"]
    for name, field in Settings.model_fields.items():
        default = "the user data folder" if name == "home" else f"`{field.default}`"
        default = "none" if field.default is None else "empty" if field.default == "" else default
        variable = f"`NARRATOR_{name.upper()}`"
        rows.append(f"| `{name}` | {variable} | {default} | {_cell(_text(field.description))} |")
    return "\n".join(rows)


def errors() -> str:
    """Every code, what it says and what to do, room by room."""
    lines: list[str] = []
    for digit, room in _ROOMS.items():
        codes = sorted(code for code in CATALOGUE if code[1] == digit)
        if not codes:
            continue
        lines += [f"## {room}\n", "| code | message | what to do |", "| --- | --- | --- |"]
        lines += [
            f"| {c} | {_cell(_fields(CATALOGUE[c].message))} | {_cell(_fields(CATALOGUE[c].remedy))} |"
            for c in codes
        ]
        lines.append("")
    return "\n".join(lines).strip()


def _fields(template: str) -> str:
    """``{path}`` as *path*, formats dropped."""
    return re.sub(r"\{(\w+)[^}]*\}", r"*\1*", template)


def _text(text: str | None) -> str:
    """Help as paragraphs of one line each."""
    parts = re.split(r"\n\s*\n", (text or "").replace("\b", "").strip())
    return "\n\n".join(" ".join(part.split()) for part in parts)


def _cell(text: str) -> str:
    return text.replace("\n\n", " ").replace("|", r"\|")


BLOCKS: dict[str, Callable[[], str]] = {"commands": commands, "settings": settings, "errors": errors}
"""Name of the page and its block to what makes it."""


def page(name: str) -> str:
    """A page of the docs with its block made anew."""
    text = (DOCS / f"{name}.md").read_text(encoding="utf-8")
    before, _, rest = text.partition(f"<!-- begin {name} -->\n")
    _, _, after = rest.partition(f"<!-- end {name} -->")
    return f"{before}<!-- begin {name} -->\n\n{BLOCKS[name]()}\n\n<!-- end {name} -->{after}"


def main() -> None:
    """Write every page."""
    for name in BLOCKS:
        (DOCS / f"{name}.md").write_text(page(name), encoding="utf-8")
        sys.stderr.write(f"{DOCS / name}.md\n")


if __name__ == "__main__":
    main()
