"""What is answered to a spoken question: one or two short sentences, from the record alone."""

from __future__ import annotations

from narrator.hearing.control import Name
from narrator.job.record import FastenerRow, HypothesisRow, MeasurementRow, Record
from narrator.live.view import LAST_LINES, Understanding

_SAID = {
    "V": "volts", "mV": "millivolts", "A": "amps", "mA": "milliamps", "uA": "microamps",
    "Ohm": "ohms", "kOhm": "kilohms",
    "psi": "psi", "kPa": "kilopascals", "bar": "bar", "Cel": "degrees Celsius", "degF": "degrees Fahrenheit",
    "mm": "millimeters", "in": "inches", "N.m": "newton meters", "ft.lbf": "foot pounds",
    "in.lbf": "inch pounds", "rpm": "rpm", "L": "liters", "qt": "quarts", "Hz": "hertz", "%": "percent",
    "km/h": "kilometers an hour", "mph": "miles an hour", "s": "seconds", "min": "minutes", "h": "hours",
    "kg": "kilograms", "lb": "pounds", "W": "watts", "kW": "kilowatts", "A.h": "amp hours",
}  # fmt: skip


def answer(name: Name, record: Record, help_text: str = "") -> str:
    """The answer to a question by its name."""
    if name == "last_reading":
        return _last(
            [m for m in record.measurements if m.role == "reading" and m.quantity != "torque"], "reading"
        )
    if name == "last_torque":
        return _last([m for m in record.measurements if m.quantity == "torque"], "torque")
    if name == "open_fasteners":
        off = [fastener(row) for row in record.fasteners if row.removed > row.installed]
        return f"Still off: {'; '.join(off)}." if off else "No fastener is off, as far as was said."
    if name == "still_open":
        return _still_open(record)
    if name == "summary":
        return _summary(record)
    return help_text


def fastener(row: FastenerRow) -> str:
    """Those of a group that are off: ``2 of 4 bolts 10 mm, air box``."""
    out = row.removed - row.installed
    size = f" {row.size.value:g} {row.size.unit}" if row.size else ""
    where = f", {row.location}" if row.location else ""
    return f"{out} {row.kind}{'s' if out != 1 else ''}{size}{where}"


def suspect(row: HypothesisRow) -> str:
    """The thing and its fault (``relay, dirty contacts``): short enough to be heard or seen from afar."""
    if not row.component:
        return row.statement.strip(" .")
    return row.component if not row.fault else f"{row.component}, {row.fault}"


def _suspects(record: Record, status: str) -> tuple[str, ...]:
    """Those that stand so, each named once."""
    return tuple(dict.fromkeys(suspect(row) for row in record.hypotheses if row.status == status))


def understanding(record: Record) -> Understanding:
    """What the screen shows of a record."""
    told = [row.clean for row in record.utterances if not row.struck]
    return Understanding(
        tuple(told[-LAST_LINES:]),
        _suspects(record, "open"),
        tuple(fastener(row) for row in record.fasteners if row.removed > row.installed),
        len(record.looks),
    )


def _last(rows: list[MeasurementRow], what: str) -> str:
    if not rows:
        return f"No {what} was noted yet."
    row = rows[-1]
    of = f" {row.component}," if row.component else ""
    condition = f", {row.condition}" if row.condition else ""
    unit = _SAID.get(row.unit, row.unit)
    return f"Last {what}:{of} {row.quantity.replace('_', ' ')} {row.value:g} {unit}{condition}."


def _still_open(record: Record) -> str:
    suspects = _suspects(record, "open")
    items = [item.text.strip(" .") for item in record.open_items]
    parts = [f"Suspects open: {'; '.join(suspects)}." if suspects else "No suspect is open."]
    parts.append(f"To do: {'; '.join(items)}." if items else "Nothing is noted as still to do.")
    return " ".join(parts)


def _summary(record: Record) -> str:
    by = {status: _suspects(record, status) for status in ("confirmed", "ruled_out", "open")}
    told = sum(not row.struck for row in record.utterances)
    parts = [f"{told} remark{'s' if told != 1 else ''}."]
    parts += [f"Confirmed: {'; '.join(by['confirmed'])}."] if by["confirmed"] else ["No cause is confirmed."]
    parts += [f"Ruled out: {'; '.join(by['ruled_out'])}."] if by["ruled_out"] else []
    parts += [f"Open: {'; '.join(by['open'])}."] if by["open"] else []
    off = sum(row.removed - row.installed for row in record.fasteners if row.removed > row.installed)
    parts.append(f"{off} fastener{'s' if off != 1 else ''} off.")
    return " ".join(parts)
