"""A sheet as PDF, set by Typst from data alone: no text of a record is ever read as markup.

Typst's wheel brings its own typefaces (Libertinus Serif, DejaVu Sans Mono), so that the same sheet gives the
same bytes on every machine; the machine's typefaces are asked only for scripts that those two lack.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from typing import Any, Literal

import typst

from narrator.errors import NarratorError
from narrator.sheet.document import Block, Picture, Section, Sheet
from narrator.sheet.html import TEMPLATES, THREE_CS

Paper = Literal["a4", "us-letter"]
_FOREIGN = re.compile(r"[^\u0000-\u052f\u1e00-\u22ff\u2500-\u25ff\u2713\u2717]")
_LONG_WORD = re.compile(r"\S{25,}")
_FACE = '<svg font-family="Libertinus Serif" '


def render_pdf(sheet: Sheet, paper: Paper = "a4") -> bytes:
    """The sheet as PDF; the same sheet and paper give the same bytes.

    Raises:
        NarratorError: E521 when Typst cannot set the page.
    """
    made = _compile(sheet, paper, format="pdf", timestamp=0)
    return made if isinstance(made, bytes) else b"".join(made)


def render_png(sheet: Sheet, paper: Paper = "a4", ppi: float = 100.0) -> bytes:
    """The first page as a PNG picture, for documentation and previews.

    Raises:
        NarratorError: E521 when Typst cannot set the page.
    """
    made = _compile(sheet, paper, format="png", ppi=ppi)
    return made if isinstance(made, bytes) else made[0]


def _compile(sheet: Sheet, paper: Paper, **options: object) -> bytes | list[bytes]:
    """Typst's result: one file, or one a page where a picture has several."""
    files: dict[str, bytes] = {"main.typ": (TEMPLATES / "sheet.typ").read_bytes()}
    first, *others = sheet.sections
    data = {
        "paper": paper,
        "title": sheet.title,
        "shop": sheet.shop,
        "lead": sheet.lead,
        "statement": sheet.statement,
        "first": _section(first, files),
        "threecs": [_section(s, files) for s in others if s.id in THREE_CS],
        "rest": [_section(s, files) for s in others if s.id not in THREE_CS],
    }
    files["sheet.json"] = json.dumps(_breakable(data), ensure_ascii=False).encode()
    foreign = any(_FOREIGN.search(text) for text in sheet.texts())
    try:
        # the wheel takes a dict of files, which its stub does not know yet
        made: bytes | list[bytes] = typst.compile(files, ignore_system_fonts=not foreign, **options)  # type: ignore[call-overload]
    except typst.TypstError as error:
        raise NarratorError("E521", why=str(error).splitlines()[0]) from error
    return made


def _section(section: Section, files: dict[str, bytes]) -> dict[str, Any]:
    return {
        "id": section.id,
        "title": section.title,
        "blocks": [_block(block, files) for block in section.blocks],
    }


def _block(block: Block, files: dict[str, bytes]) -> dict[str, Any]:
    """A block as data; a picture becomes a file of the compilation and its words in ``alt``."""
    if isinstance(block, Picture):
        name = f"picture-{len(files)}.svg"
        files[name] = block.svg.replace("<svg ", _FACE, 1).encode()
        return {"kind": "picture", "file": name, "alt": f"{block.title}. {block.described}"}
    return {"kind": type(block).__name__.lower(), **asdict(block)}


def _breakable(value: Any) -> Any:
    """The same data with places to break in words too long for a column (zero-width spaces)."""
    if isinstance(value, str):
        return _LONG_WORD.sub(lambda m: "\u200b".join(re.findall(r".{1,12}", m.group())), value)
    if isinstance(value, dict):
        return {key: one if key in {"file", "kind"} else _breakable(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_breakable(one) for one in value]
    return value
