"""A job sheet as plain data: sections of tables, lines and notes, the same for every format.

``narrator.sheet.view`` decides every word; the formats (HTML, PDF, Markdown, terminal) only set it.
Text is plain: a format must escape it for its own markup.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: lines of text, and whether the eye should be drawn to it (``strong``)."""

    lines: tuple[str, ...]
    strong: bool = False

    @property
    def text(self) -> str:
        """The lines as one string."""
        return "; ".join(self.lines)


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading and its share of the table's width (any positive number)."""

    title: str
    width: int = 2


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings; the cell of column ``head`` names its row."""

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    head: int = 0


@dataclass(frozen=True, slots=True)
class Item:
    """One line: what it says, when it was said (``mm:ss``, may be empty) and how sure that is."""

    text: str
    time: str = ""
    sure: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Items:
    """Lines under a small heading (which may be empty)."""

    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values: the vehicle, the session."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Note:
    """A sentence of the sheet's own: nothing was said, or what a list means."""

    text: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing (SVG text without a font), its title, what it shows in words, its size in units."""

    svg: str
    title: str
    described: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Signatures:
    """Lines to be signed by hand: the role, and a name already known (or empty)."""

    lines: tuple[tuple[str, str], ...]


Block = Table | Items | Facts | Note | Picture | Signatures


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the sheet under a heading; ``id`` is its stable name."""

    id: str
    title: str
    blocks: tuple[Block, ...]

    @property
    def count(self) -> int:
        """How many items it lists."""
        return sum(len(getattr(block, "items", ())) for block in self.blocks)


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole page: its title, the lines under it, and its sections in order."""

    title: str
    shop: str
    lead: str
    sections: tuple[Section, ...]
    statement: str

    def section(self, ident: str) -> Section:
        """The section named ``ident`` (KeyError when there is none)."""
        for section in self.sections:
            if section.id == ident:
                return section
        raise KeyError(ident)

    def texts(self) -> Iterator[str]:
        """Every piece of text on the sheet for tests and searching."""
        yield from (self.title, self.shop, self.lead, self.statement)
        for section in self.sections:
            yield section.title
            for block in section.blocks:
                yield from _texts(block)


def _texts(block: Block) -> Iterator[str]:
    if isinstance(block, Table):
        yield block.caption
        yield from (column.title for column in block.columns)
        for row in block.rows:
            for cell in row:
                yield from cell.lines
    elif isinstance(block, Items):
        yield block.title
        for item in block.items:
            yield from (item.text, item.time, item.sure)
    elif isinstance(block, Facts):
        for pair in block.pairs:
            yield from pair
    elif isinstance(block, Note):
        yield block.text
    elif isinstance(block, Picture):
        yield from (block.title, block.described)
    else:
        for line in block.lines:
            yield from line
