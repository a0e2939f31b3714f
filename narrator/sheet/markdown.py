"""A sheet as Markdown (CommonMark with tables), every text escaped so that none of it is read as markup."""

from __future__ import annotations

import re

from narrator.sheet.document import Block, Cell, Facts, Item, Items, Note, Picture, Section, Sheet, Signatures

_BLANK = r"\_" * 12
_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~&$!])")
_SPACE = re.compile(r"\s+")
_LIST_START = re.compile(r"^(\d+)([.)])(?=\s|$)|^([+-])(?=\s|$)|^([=-]+$)")


def render_markdown(sheet: Sheet) -> str:
    """The sheet as text that ends with a newline; pictures become their description in words."""
    parts = [f"# {escape(sheet.title)}"]
    if sheet.shop:
        parts.append(f"**{escape(sheet.shop)}**")
    parts.append(f"**{escape(sheet.lead)}**")
    for section in sheet.sections:
        parts += _section(section)
    return "\n\n".join([*parts, escape(sheet.statement)]) + "\n"


def escape(text: str) -> str:
    """One line of text in which no sign is read as markup, nor its start as a list or rule."""
    text = _SIGNS.sub(r"\\\1", _SPACE.sub(" ", text).strip())
    return _LIST_START.sub(lambda m: f"{m[1]}\\{m[2]}" if m[1] else f"\\{m[0]}", text)


def _section(section: Section) -> list[str]:
    return [f"## {escape(section.title)}", *(_block(block, section.id == "work") for block in section.blocks)]


def _block(block: Block, ordered: bool) -> str:
    if isinstance(block, Items):
        lines = [_item(item, f"{n}." if ordered else "-") for n, item in enumerate(block.items, start=1)]
        title = [f"### {escape(block.title)}", ""] if block.title else []
        return "\n".join(title + lines)
    if isinstance(block, Facts):
        return "\n".join(f"- {escape(name)}: **{escape(value)}**" for name, value in block.pairs)
    if isinstance(block, Note):
        return escape(block.text)
    if isinstance(block, Picture):
        return f"*{escape(block.title)}:* {escape(block.described)}"
    if isinstance(block, Signatures):
        return "\n\n".join(
            f"{escape(role)}: {escape(name) or _BLANK}  Signature: {_BLANK}  Date: {_BLANK}"
            for role, name in block.lines
        )
    heads = "| " + " | ".join(escape(column.title) for column in block.columns) + " |"
    rule = "|" + " --- |" * len(block.columns)
    rows = ["| " + " | ".join(_cell(cell) for cell in row) + " |" for row in block.rows]
    return "\n".join([heads, rule, *rows])


def _cell(cell: Cell) -> str:
    text = "; ".join(escape(line) for line in cell.lines)
    return f"**{text}**" if cell.strong and text else text


def _item(item: Item, bullet: str) -> str:
    words = f"**{escape(item.text)}**" if item.strong else escape(item.text)
    time = f"{item.time} " if item.time else ""
    return f"{bullet} {time}{words}" + (f" *({escape(item.sure)})*" if item.sure else "")
