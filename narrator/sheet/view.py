"""A record and what is known of its session, made into the sheet that every format prints."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from narrator.job.record import Record
from narrator.sheet import closing, diagnosis, work
from narrator.sheet.document import Facts, Note, Section, Sheet, Signatures
from narrator.sheet.words import Said, clock, counted
from narrator.wording import with_sign

STATEMENT = (
    "This sheet records what the technician said. The program that compiled it decides no cause and "
    "declares no vehicle safe. The maker's manual, local codes and licensed practice govern; whoever signs "
    "has checked it against the vehicle. Times are minutes and seconds from the start of the narration."
)
_CHECK = {True: "check digit agrees", False: "check digit does not agree"}
_UNPRINTABLE = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class SheetMeta:
    """What a sheet says beside the record: shop, date (as printed), session, who worked, and the vehicle as
    it was named when the job began, for a record that has none."""

    shop: str = ""
    date: str = ""
    session: str = ""
    technician: str = ""
    vehicle: str = ""


def view(record: Record, meta: SheetMeta | None = None) -> Sheet:
    """Every word of the sheet, in order; a pure function of its arguments."""
    record = Record.model_validate(_printable(record.model_dump()))
    meta = SheetMeta(**_printable({name: getattr(meta or SheetMeta(), name) for name in SheetMeta.__slots__}))
    said = Said(record)
    sections = (
        _job(record, meta), diagnosis.concern(record, said), diagnosis.cause(record, said),
        work.correction(record, said), diagnosis.reasoning(record, said), diagnosis.suspects(record, said),
        diagnosis.tests(record, said), diagnosis.readings(record, said), work.steps(record, said),
        work.fasteners(record, said), work.parts(record, said), closing.verification(record, said),
        closing.still_open(record, said), closing.looks(record, said), closing.cautions(record, said),
        closing.notes(record, said), _sign(record, meta),
    )  # fmt: skip
    return Sheet(
        title=f"Job sheet: {vehicle_name(record, meta)}",
        shop=meta.shop,
        lead=_lead(record, sections),
        sections=tuple(section for section in sections if section),
        statement=STATEMENT,
    )


def _printable(value: Any) -> Any:
    """The same data without characters that no page can print or that would reorder its text."""
    if isinstance(value, str):
        return _UNPRINTABLE.sub("", value)
    if isinstance(value, dict):
        return {key: _printable(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_printable(one) for one in value]
    return value


def vehicle_name(record: Record, meta: SheetMeta) -> str:
    """Year, make and model as far as they were said; else what the job was begun with."""
    row = record.vehicle
    said = " ".join(str(part) for part in (row.year, row.make, row.model) if part)
    return said or meta.vehicle or "vehicle not said"


def _job(record: Record, meta: SheetMeta) -> Section:
    row = record.vehicle
    vin = row.vin or "not said"
    if row.vin:
        vin += f" ({_CHECK[row.vin_check]})" if row.vin_check is not None else ""
    odometer = "not said"
    if row.odometer:
        odometer = with_sign(f"{row.odometer.value:,}", row.odometer.unit)
    length = clock(max((u.end for u in record.utterances), default=0.0))
    added = sum(u.added and not u.struck for u in record.utterances)
    told = f"{counted(sum(not u.added for u in record.utterances), 'line')} in {length}"
    pairs = (
        ("Vehicle", vehicle_name(record, meta)), ("VIN", vin), ("Odometer", odometer),
        ("Date", meta.date or "____________________"), ("Session", meta.session or "not numbered"),
        ("Technician", meta.technician or "____________________"),
        ("Narration", f"{told}, {counted(added, 'line')} added" if added else told),
        ("Compiled by", f"rules {record.rules}, contract {record.contract}"),
    )  # fmt: skip
    return Section("job", "Job", (Facts(pairs),))


def _lead(record: Record, sections: tuple[Section | None, ...]) -> str:
    """The state of the job in one line: last check, what is left over, what is open, what needs a look."""
    left = work.left_over(record)
    words = [work.outcome(record)]
    if left:
        words.append(f"{counted(left, 'fastener').upper()} LEFT OVER.")
    for section in sections:
        if section and section.id in {"open", "look"}:
            said = (
                f"{counted(section.count, 'item')} still open."
                if section.id == "open"
                else f"{counted(section.count, 'line')} to look at."
            )
            words += [said] if section.count else []
    return " ".join(words)


def _sign(record: Record, meta: SheetMeta) -> Section:
    """Signature lines, with what is signed named again: they may stand alone on the last page."""
    what = f"Sheet of: {vehicle_name(record, meta)}" + (f", session {meta.session}" if meta.session else "")
    lines = Signatures((("Technician", meta.technician), ("Reviewed by", "")))
    return Section("sign", "Signed", (Note(what), lines))
