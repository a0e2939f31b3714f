"""``narrator models``: what recognizers' models are here and could be had; verify and install them."""

from __future__ import annotations

import json
from pathlib import Path

import click
from rich.console import Console
from rich.table import Column, Table

from narrator.errors import NarratorError
from narrator.hearing.install import install_model
from narrator.hearing.models import Found, list_models, mismatches
from narrator.settings import load_settings


@click.group(invoke_without_command=True)
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON.")
@click.pass_context
def command(ctx: click.Context, as_json: bool) -> None:
    """List the recognizers' models: what is here, what could be had, size and licence.

    Nothing is ever fetched: a model is installed from a file that you have.
    """
    if ctx.invoked_subcommand is None:
        found = list_models(load_settings())
        if as_json:
            click.echo(json.dumps([_row(model) for model in found], indent=1))
        else:
            _print_table(found)


def _row(model: Found) -> dict[str, object]:
    row = model.manifest.model_dump(
        include={"name", "engine", "language", "bytes", "licence", "source", "get"}
    )
    return row | {"here": model.path is not None, "path": str(model.path) if model.path else None}


def _print_table(found: list[Found]) -> None:
    table = Table(
        Column("model", no_wrap=True),
        "engine",
        "language",
        "size",
        "licence",
        "here",
        box=None,
        pad_edge=False,
    )
    for model in found:
        m = model.manifest
        size = f"{m.bytes / 1e6:,.0f} MB"
        table.add_row(m.name, m.engine, m.language, size, m.licence, "yes" if model.path else "no")
    console = Console(highlight=False)
    console.print(table)
    for model in found:
        m = model.manifest
        where = str(model.path) if model.path else m.get
        click.echo(f"\n{m.name}: {m.source}\n  {where}")


@command.command()
def verify() -> None:
    """Compare every model that is here with the sha256 of its manifest."""
    problems: list[str] = []
    for model in list_models(load_settings()):
        if model.path is None:
            continue
        wrong = mismatches(model)
        problems += wrong
        count = len(model.manifest.files)
        state = "DIFFERS" if wrong else f"{count} files match" if count else "no digests known"
        click.echo(f"{model.manifest.name}: {state}")
    if problems:
        raise NarratorError("E214", count=len(problems), which=", ".join(problems))


@command.command()
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--name", help="Name to install it under; by default its own.")
def install(path: Path, name: str | None) -> None:
    """Install a Vosk model from a zip file or folder on this machine."""
    from narrator.hearing.vosk_engine import VoskDecoder  # noqa: PLC0415  (only this command needs it)

    settings = load_settings()
    stem = name or (path.stem if path.suffix == ".zip" else path.name)
    known = {model.manifest.name: model.manifest for model in list_models(settings)}

    def check(root: Path) -> None:
        VoskDecoder(root)

    folder = install_model(path, settings, name, known=known.get(stem), check=check)
    click.echo(f"Installed {folder.name} in {folder}")
