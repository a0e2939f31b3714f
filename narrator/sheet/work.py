"""The sections on what was done: correction, work in order, fasteners, parts."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal, InvalidOperation

from narrator.job.record import FastenerRow, PartRow, Record
from narrator.sheet.document import Block, Cell, Column, Item, Items, Note, Section, Table
from narrator.sheet.words import VERIFIED, Said, counted, deed, fastener_end, fastener_name, sentence


def correction(record: Record, said: Said) -> Section:
    """What was changed for good, and how the last check after it went."""
    items = tuple(
        Item(
            sentence(f"{deed(row.action)}: {row.component}"),
            said.time(*row.utterances),
            said.sure(row.utterances),
        )
        for row in record.corrections
    )
    block: Block = Items("", items) if items else Note("No correction was narrated.")
    return Section("correction", "Correction", (block, Note(outcome(record))))


def outcome(record: Record) -> str:
    """How the job ended, as narrated: the last check after the repair decides."""
    if not record.verifications:
        return "No check after the repair was narrated."
    return f"The last check after the repair {VERIFIED[record.verifications[-1].outcome]}, as narrated."


def steps(record: Record, said: Said) -> Section:
    """The work in the order in which it was narrated."""
    items = tuple(
        Item(sentence(row.text), said.time(row.utterance), said.sure([row.utterance])) for row in record.steps
    )
    block: Block = Items("", items) if items else Note("No step was narrated.")
    return Section("work", "Work in order", (block,))


def fasteners(record: Record, said: Said) -> Section:
    """Groups of fasteners: how many came off and went back on; what is left over stands out."""
    columns = (
        Column("Fastener", 4), Column("Where", 4), Column("Off", 1), Column("Back on", 2),
        Column("How it ended", 4), Column("Time", 2), Column("How sure", 3),
    )  # fmt: skip
    rows = tuple(_fastener(row, said) for row in record.fasteners)
    block: Block = Table("Fasteners", columns, rows) if rows else Note("No fastener was narrated.")
    return Section("fasteners", "Fasteners", (block,))


def _fastener(row: FastenerRow, said: Said) -> tuple[Cell, ...]:
    ended, strong = fastener_end(row)
    doubts = () if row.size else ("size not said",)
    return (
        Cell((sentence(fastener_name(row)),)), Cell((row.location or "not said",)), Cell((str(row.removed),)),
        Cell((str(row.installed),)), Cell((ended,), strong), Cell((said.time(*row.utterances),)),
        Cell((said.sure(row.utterances, *doubts),)),
    )  # fmt: skip


def left_over(record: Record) -> int:
    """Fasteners that came off and were not narrated as refitted."""
    return sum(max(0, row.removed - row.installed) for row in record.fasteners)


def parts(record: Record, said: Said) -> Section:
    """Parts with their numbers, prices and state, and the total of the prices in each currency."""
    columns = (
        Column("Part", 4), Column("Number", 3), Column("Price", 3), Column("State", 2), Column("Time", 2),
        Column("How sure", 3),
    )  # fmt: skip
    rows = tuple(_part(row, said) for row in record.parts)
    if not rows:
        return Section("parts", "Parts", (Note("No part was narrated."),))
    return Section("parts", "Parts", (Table("Parts", columns, rows), Items("", tuple(totals(record.parts)))))


def _part(row: PartRow, said: Said) -> tuple[Cell, ...]:
    price = money(row.price.amount, row.price.currency) if row.price else "not said"
    return (
        Cell((sentence(row.name),)), Cell((row.number or "not said",)), Cell((price,)), Cell((row.state,)),
        Cell((said.time(*row.utterances),)), Cell((said.sure(row.utterances),)),
    )  # fmt: skip


def money(amount: str, currency: str | None) -> str:
    """An amount and its currency code: ``48.50 USD``."""
    return f"{amount} {currency}" if currency else f"{amount} (no currency said)"


def totals(rows: list[PartRow]) -> list[Item]:
    """The sum of the prices in each currency, and how many parts had none."""
    sums: dict[str | None, Decimal] = defaultdict(Decimal)
    without = 0
    for row in rows:
        try:
            if row.price is None:
                raise InvalidOperation
            sums[row.price.currency] += Decimal(row.price.amount)
        except InvalidOperation:
            without += 1
    items = [Item(f"Total of the prices said: {money(f'{s:.2f}', c)}", strong=True) for c, s in sums.items()]
    if without:
        items.append(Item(f"{counted(without, 'part')} without a price"))
    return items
