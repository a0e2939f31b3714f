"""A sheet for a terminal: rich renderables that fold to its width; whoever owns the terminal prints them."""

from __future__ import annotations

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table as RichTable
from rich.text import Text

from narrator.sheet.document import Block, Cell, Facts, Items, Note, Picture, Section, Sheet, Table


def render_terminal(sheet: Sheet) -> Group:
    """The sheet without what is for paper: the picture (the suspects' stories tell it) and the signatures."""
    parts: list[RenderableType] = [Text(sheet.title, style="bold")]
    if sheet.shop:
        parts.append(Text(sheet.shop))
    parts.append(Text(sheet.lead, style="bold"))
    for section in sheet.sections:
        if section.id not in {"reasoning", "sign"}:
            parts += _section(section)
    return Group(*parts, Text(), Text(sheet.statement))


def _section(section: Section) -> list[RenderableType]:
    blocks = [
        Padding(shown, (0, 0, 0, 2)) for block in section.blocks if (shown := _block(block)) is not None
    ]
    return [Text(), Text(section.title.upper(), style="bold underline"), *blocks]


def _block(block: Block) -> RenderableType | None:
    if isinstance(block, Items):
        return _items(block)
    if isinstance(block, Table):
        return _table(block)
    if isinstance(block, Facts):
        grid = _grid()
        for name, value in block.pairs:
            grid.add_row(Text(name), Text(value, style="bold"))
        return grid
    if isinstance(block, Note):
        return Text(block.text)
    return Text(block.described) if isinstance(block, Picture) else None


def _grid() -> RichTable:
    grid = RichTable.grid(padding=(0, 2, 0, 0))
    grid.add_column(no_wrap=True)
    grid.add_column()
    grid.add_column(style="italic")
    return grid


def _items(block: Items) -> RenderableType:
    grid = _grid()
    for item in block.items:
        grid.add_row(Text(item.time), Text(item.text, style="bold" if item.strong else ""), Text(item.sure))
    return Group(Text(block.title, style="bold"), grid) if block.title else grid


def _table(block: Table) -> RichTable:
    table = RichTable(box=box.SIMPLE, padding=(0, 1), pad_edge=False, show_edge=False)
    for column in block.columns:
        table.add_column(column.title, overflow="fold", no_wrap=column.title in {"Time", "No."})
    for row in block.rows:
        table.add_row(*(_cell(cell) for cell in row))
    return table


def _cell(cell: Cell) -> Text:
    return Text("\n".join(cell.lines), style="bold" if cell.strong else "")
