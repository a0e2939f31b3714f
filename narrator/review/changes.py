"""What a change did to a sheet: lines gone and lines come, section by section."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher

from narrator.job.record import Record
from narrator.sheet.document import Block, Facts, Items, Note, Section, Table
from narrator.sheet.view import SheetMeta, view


@dataclass(frozen=True, slots=True)
class SectionChange:
    """One section: what stood there and stands there no more, and what stands there now."""

    title: str
    gone: tuple[str, ...]
    came: tuple[str, ...]


def changes(before: Record, after: Record) -> tuple[SectionChange, ...]:
    """The differences between the sheets of two records, in the order of the sheet."""
    old = {s.id: s for s in view(before, SheetMeta()).sections}
    new = {s.id: s for s in view(after, SheetMeta()).sections}
    found = []
    for ident in dict.fromkeys([*old, *new]):
        if ident in ("reasoning", "sign"):
            continue
        a, b = _lines(old.get(ident)), _lines(new.get(ident))
        gone: list[str] = []
        came: list[str] = []
        for tag, i, j, k, m in SequenceMatcher(None, a, b, autojunk=False).get_opcodes():
            if tag != "equal":
                gone += a[i:j]
                came += b[k:m]
        if gone or came:
            found.append(SectionChange((new.get(ident) or old[ident]).title, tuple(gone), tuple(came)))
    return tuple(found)


def _lines(section: Section | None) -> list[str]:
    return [line for block in (section.blocks if section else ()) for line in _of(block)]


def _of(block: Block) -> Iterator[str]:
    if isinstance(block, Items):
        yield from (" ".join(filter(None, (row.time, row.text))) for row in block.items)
    elif isinstance(block, Table):
        yield from ("; ".join(cell.text for cell in row if cell.text) for row in block.rows)
    elif isinstance(block, Facts):
        yield from (f"{name}: {value}" for name, value in block.pairs)
    elif isinstance(block, Note):
        yield block.text


def new_words(heard: str, corrected: str) -> list[tuple[str, str]]:
    """Where a correction replaced words by others: (as heard, as corrected), up to three words each."""
    a, b = heard.lower().split(), corrected.lower().split()
    pairs = []
    for tag, i, j, k, m in SequenceMatcher(None, a, b, autojunk=False).get_opcodes():
        if tag == "replace" and max(j - i, m - k) <= 3:
            pairs.append((" ".join(a[i:j]), " ".join(b[k:m]).strip(".,;:?!")))
    return [pair for pair in pairs if any(sign.isalpha() for sign in pair[1])]
