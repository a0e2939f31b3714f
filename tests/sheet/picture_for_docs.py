"""Makes the picture of a sheet in docs/images: the first page of the invented record's PDF, as PNG.

Run ``python -m tests.sheet.picture_for_docs docs/images/sheet.png [RECORD.json]``; needs no browser.
"""

from __future__ import annotations

import sys
from pathlib import Path

from narrator.job.record import Record
from narrator.sheet.pdf import render_png
from narrator.sheet.view import SheetMeta, view
from tests.sheet import golden


def main(target: Path, source: Path | None = None) -> None:
    """Write the first page of the golden record's sheet, or of another record's, to ``target``."""
    if source is None:
        sheet = view(golden.record(), golden.META)
    else:
        record = Record.model_validate_json(source.read_text(encoding="utf-8"))
        sheet = view(record, SheetMeta("Example Shop (invented)"))
    target.write_bytes(render_png(sheet))


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
