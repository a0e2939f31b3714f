"""Writing a sheet's files: each whole or not at all, the same bytes for the same record."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.sheet.document import Sheet
from narrator.sheet.html import render_html
from narrator.sheet.markdown import render_markdown
from narrator.sheet.pdf import Paper, render_pdf

Format = Literal["html", "pdf", "md", "json"]
FILES: dict[Format, str] = {"html": "sheet.html", "pdf": "sheet.pdf", "md": "sheet.md", "json": "record.json"}
"""Format to the name of its file."""


def write_sheet(
    record: Record, sheet: Sheet, folder: Path, formats: Sequence[Format], paper: Paper = "a4"
) -> list[Path]:
    """Write the wanted formats into ``folder`` (made where missing) and give their paths.

    Raises:
        NarratorError: E520 when a file cannot be written, E521 when the PDF cannot be set.
    """
    made = {kind: _render(kind, record, sheet, paper) for kind in dict.fromkeys(formats)}
    return [_write(folder / FILES[kind], content) for kind, content in made.items()]


def _render(kind: Format, record: Record, sheet: Sheet, paper: Paper) -> bytes:
    if kind == "pdf":
        return render_pdf(sheet, paper)
    if kind == "json":
        return (record.model_dump_json(indent=1) + "\n").encode()
    return (render_html(sheet) if kind == "html" else render_markdown(sheet)).encode()


def _write(path: Path, content: bytes) -> Path:
    part = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(content)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True) if path.parent.is_dir() else None
        raise NarratorError("E520", path=path, why=error.strerror or error) from error
    return path
