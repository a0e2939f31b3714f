"""``narrator show``: one session to read on a terminal."""

from __future__ import annotations

from collections.abc import Iterator

import click
from rich.console import Group
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from narrator.cli.terminal import clock, console, plain
from narrator.job.record import NOT_SAID, FastenerRow, PartRow, Record, UtteranceRow, VehicleRow
from narrator.session import current_record
from narrator.settings import load_settings
from narrator.store import Reader
from narrator.store.rows import SessionRow

_ENDED = {"open": "open", "ruled_out": "ruled out", "confirmed": "confirmed"}


@click.command("show")
@click.argument("ident", metavar="ID")
def command(ident: str) -> None:
    """Show what was said in session ID and what the record holds.

    ID may be cut to a start or end that only one session has; `last` is the latest.
    """
    home = load_settings().home
    with Reader(home) as reader:
        one = reader.resolve(ident)
        row = next(row for row in reader.sessions() if row.id == one)
    record = current_record(home, one)
    out = console()
    out.print(_heading(row, record))
    out.print(_transcript(record))
    for title, lines in summary(record):
        out.print(Text(f"\n{title}", style="bold"))
        for line in lines:
            out.print(Padding(Text(plain(line)), (0, 0, 0, 2), expand=False))


def _heading(row: SessionRow, record: Record) -> Group:
    vehicle = vehicle_line(record.vehicle) or row.vehicle or "vehicle not named"
    about = [row.started.replace("T", " "), clock(row.audio_seconds or row.spoken_until)]
    about += [value for value in (row.source, row.engine) if value]
    about += [f"{row.utterances} utterances", row.state]
    return Group(
        Text.assemble((row.id, "cyan"), "  ", (plain(vehicle), "bold")),
        Text(plain(" · ".join(about)), style="dim"),
        Text(),
    )


def _transcript(record: Record) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(justify="right", style="dim", no_wrap=True)
    table.add_column(justify="right", style="dim", no_wrap=True)
    table.add_column()
    table.add_column(style="dim")
    lines: list[tuple[float, tuple[str, str, Text, str]]] = [
        (u.start, (clock(u.start), str(u.id), _said(u), ", ".join(u.acts).replace("_", " ")))
        for u in record.utterances
    ]
    lines += [
        (
            g.start,
            (clock(g.start), "", Text(plain(f"— {g.end - g.start:.1f} s without sound: {g.reason} —")), ""),
        )
        for g in record.gaps
    ]
    for _, cells in sorted(lines, key=lambda line: line[0]):
        table.add_row(*cells)
    return table


def _said(row: UtteranceRow) -> Text:
    if row.struck:
        return Text.assemble((plain(row.clean), "strike"), ("  (struck)", "dim"))
    shown = Text(plain(row.clean))
    if row.added:
        shown.append(f"  {NOT_SAID}", style="dim")
    elif row.corrected is not None:
        shown.append(plain(f"  (corrected; heard: {row.text})"), style="dim")
    return shown


# ---------------------------------------------------------------- the record in lines


def summary(record: Record) -> Iterator[tuple[str, list[str]]]:
    """Headings and lines of what the record holds; nothing for an empty list."""
    sections: tuple[tuple[str, list[str]], ...] = (
        ("Suspects", [f"{h.id}  {h.statement}: {_ENDED[h.status]}" for h in record.hypotheses]),
        ("Tests", [f"{t.id}  {t.procedure}: {t.outcome}" + (f" ({t.result})" if t.result else "")
                   for t in record.tests]),
        ("Work done", [f"{c.action} {c.component}" for c in record.corrections]),
        ("Checks after the work", [f"{v.text}: {v.outcome}" for v in record.verifications]),
        ("Fasteners", [_fastener(f) for f in record.fasteners]),
        ("Parts", [_part(p) for p in record.parts]),
        ("Readings", [" ".join(filter(None, (m.component, m.quantity, f"{m.value:g} {m.unit}", m.condition)))
                      for m in record.measurements]),
        ("Still open", [f"{clock(_start(record, i.utterance))}  {i.text}" for i in record.open_items]),
        ("Cautions spoken", [c.text for c in record.cautions]),
        ("To be looked at", [f"#{k.utterance}  {k.reason}" for k in record.looks]),
    )  # fmt: skip
    yield from ((title, lines) for title, lines in sections if lines)


def vehicle_line(vehicle: VehicleRow) -> str:
    """Year, make, model, odometer and VIN, as far as they were said."""
    known = [str(value) for value in (vehicle.year, vehicle.make, vehicle.model) if value]
    if vehicle.odometer:
        known.append(f"({vehicle.odometer.value:,} {vehicle.odometer.unit})")
    if vehicle.vin:
        known.append(f"VIN {vehicle.vin}" + (" (check digit wrong)" if vehicle.vin_check is False else ""))
    return " ".join(known)


def _start(record: Record, utterance: int) -> float:
    return next((u.start for u in record.utterances if u.id == utterance), 0.0)


def _fastener(row: FastenerRow) -> str:
    size = f"{row.size.value:g} {row.size.unit}" if row.size else ""
    if row.size and row.size.unit == "T":
        size = f"T{row.size.value:g}"
    kind = " ".join(filter(None, (size, row.drive, row.kind)))
    return f"{kind}{f', {row.location}' if row.location else ''}: {row.removed} off, {row.installed} on"


def _part(row: PartRow) -> str:
    price = f", {row.price.amount} {row.price.currency or ''}".rstrip() if row.price else ""
    return f"{row.name}{f' ({row.number})' if row.number else ''}: {row.state}{price}"
