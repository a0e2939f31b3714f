"""A sheet as one self-contained HTML page: no script, no outside asset, every text escaped."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from narrator.sheet.document import Block, Sheet

TEMPLATES = Path(__file__).parent / "templates"
THREE_CS = ("concern", "cause", "correction")


def plain(block: Block) -> dict[str, Any]:
    """A block as a mapping with its ``kind``; ``items`` is called ``items_`` (a mapping has its own)."""
    row = {f.name: getattr(block, f.name) for f in fields(block)}
    if "items" in row:
        row["items_"] = row.pop("items")
    return {**row, "kind": type(block).__name__.lower()}


@cache
def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        keep_trailing_newline=True,
    )
    made.filters["plain"] = plain
    made.filters["drawing"] = Markup  # our own drawing: its texts were escaped when it was serialized
    return made


def render_html(sheet: Sheet) -> str:
    """The page as text."""
    css = (TEMPLATES / "sheet.css").read_text(encoding="utf-8")
    first, *others = sheet.sections
    return (
        _environment()
        .get_template("sheet.html.j2")
        .render(
            sheet=sheet,
            css=Markup(css),
            first=first,
            threecs=[s for s in others if s.id in THREE_CS],
            rest=[s for s in others if s.id not in THREE_CS],
        )
    )
