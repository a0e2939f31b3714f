"""The sections on what was wrong: concern, cause, suspects, tests, readings."""

from __future__ import annotations

from collections import defaultdict

from narrator.job.record import HypothesisRow, LimitRow, MeasurementRow, Record, TestRow
from narrator.sheet import units
from narrator.sheet.document import Block, Cell, Column, Item, Items, Note, Section, Table
from narrator.sheet.picture import pictures
from narrator.sheet.timeline import marks, timeline
from narrator.sheet.words import CONTEXT_UNIT, ENDED, OUTCOMES, Said, sentence, suspect_name, suspect_said
from narrator.wording import with_sign


def concern(record: Record, said: Said) -> Section:
    """What is wrong, as the driver or customer meets it."""
    items = tuple(
        Item(said.text(u.id), said.time(u.id), said.sure([u.id]))
        for u in record.utterances
        if "concern" in u.acts and not u.struck
    )
    blocks: tuple[Block, ...] = (Items("", items),) if items else (Note("No concern was narrated."),)
    return Section("concern", "Concern", blocks)


def cause(record: Record, said: Said) -> Section:
    """What the technician settled; consequences under their cause, withdrawn conclusions apart."""
    confirmed = [h for h in record.hypotheses if h.status == "confirmed"]
    roots = [h for h in confirmed if not h.consequence_of]
    blocks: list[Block] = []
    if roots:
        title = f"{len(roots)} causes, each settled by the technician" if len(roots) > 1 else ""
        blocks.append(Items(title, tuple(_settled(h, record, said) for h in roots)))
    else:
        blocks.append(Note("The technician settled no cause."))
    if after := [h for h in confirmed if h.consequence_of]:
        blocks.append(Items("Consequences of a cause", tuple(_settled(h, record, said) for h in after)))
    if withdrawn := [item for h in record.hypotheses if (item := _withdrawn(h, said))]:
        blocks.append(Items("Called the cause, then withdrawn", tuple(withdrawn)))
    return Section("cause", "Cause", tuple(blocks))


def _settled(row: HypothesisRow, record: Record, said: Said) -> Item:
    at = [change.utterance for change in row.history[-1:]]
    text = f"{row.id}: {suspect_name(row)} ({decided_by(row, record)})"
    if row.consequence_of:
        text += f"; follows from {row.consequence_of}"
    if said_as := suspect_said(row):
        text += f"; said: {said_as}"
    return Item(text, said.time(*at), said.sure(at), True)


def _withdrawn(row: HypothesisRow, said: Said) -> Item | None:
    for before, after in zip(row.history, row.history[1:], strict=False):
        if before.status == "confirmed" and after.status != "confirmed":
            when = said.time(before.utterance)
            text = f"{row.id}: {suspect_name(row)} (called the cause at {when or 'an unknown time'})"
            return Item(text, said.time(after.utterance), said.sure([after.utterance]))
    return None


def decided_by(row: HypothesisRow, record: Record) -> str:
    """By which test a suspect ended, in words; the last test on the side it ended on."""
    if row.status == "open":
        return "no test settled it"
    side = "supports" if row.status == "confirmed" else "contradicts"
    known = {test.id for test in record.tests}
    named = [e.test for e in row.evidence if e.stance == side and e.test in known]
    return f"by test {named[-1]}" if named else "as the technician stated; no test named"


def reasoning(record: Record, said: Said) -> Section | None:
    """The picture of suspects and tests over time, where there is anything to draw."""
    drawn = pictures(timeline(record, said))
    return Section("reasoning", "Reasoning over time", tuple(drawn)) if drawn else None


def suspects(record: Record, said: Said) -> Section:
    """Every suspect with how it ended and by which test, in order of first mention."""
    columns = (
        Column("No.", 1), Column("Suspect", 5), Column("How it ended", 5), Column("What happened", 8),
        Column("How sure", 3),
    )  # fmt: skip
    rows = tuple(_suspect(h, record, said) for h in record.hypotheses)
    block: Block = Table("Suspects", columns, rows, head=1) if rows else Note("No suspect was named.")
    return Section("suspects", "Suspects", (block,))


def _suspect(row: HypothesisRow, record: Record, said: Said) -> tuple[Cell, ...]:
    story = ", ".join(  # a time and its word stay on one line
        f"{said.time(mark.utterance)}\u00a0{mark.kind}" + (f" by\u00a0{mark.test}" if mark.test else "")
        for mark in marks(row, said)
    )
    ended = [ENDED[row.status], decided_by(row, record)]
    if row.status != "confirmed" and any(change.status == "confirmed" for change in row.history):
        ended.append("after it had been called the cause")
    if row.consequence_of:
        ended.append(f"follows from {row.consequence_of}")
    uses = [h.utterance for h in row.history] + [e.utterance for e in row.evidence]
    return (
        Cell((row.id,)), Cell(tuple(filter(None, (suspect_name(row), suspect_said(row))))),
        Cell(tuple(ended), row.status == "confirmed"),
        Cell((story,)), Cell((said.sure(uses),)),
    )  # fmt: skip


def tests(record: Record, said: Said) -> Section:
    """Every test with its readings, the limits said for them, its result and the suspects it bears on."""
    by_utterance: dict[int, list[MeasurementRow]] = defaultdict(list)
    for row in record.measurements:
        by_utterance[row.utterance].append(row)
    columns = (
        Column("No.", 2), Column("Time", 3), Column("Test and result", 9), Column("Readings and limits", 8),
        Column("Found", 4), Column("Bears on", 3), Column("How sure", 5),
    )  # fmt: skip
    rows = tuple(_test(t, [m for u in t.utterances for m in by_utterance[u]], said) for t in record.tests)
    blocks: list[Block] = [Table("Tests", columns, rows, head=2) if rows else Note("No test was narrated.")]
    if codes := _codes(record, said):
        blocks.append(Items("Trouble codes named", codes))
    return Section("tests", "Tests", tuple(blocks))


def _test(row: TestRow, measured: list[MeasurementRow], said: Said) -> tuple[Cell, ...]:
    what = [sentence(row.procedure or row.component or "test")]
    if row.result and row.result.strip().lower() != row.procedure.strip().lower():
        what.append(sentence(row.result))
    held = any(m.limit for m in measured)
    values = [
        _value(m) if m.role == "reading" else f"{m.role} {_value(m)}"
        for m in measured
        if not (held and m.role == "limit")
    ]
    values += [limit_words(m, m.limit) for m in measured if m.limit]
    doubts = [CONTEXT_UNIT] if any(not m.unit_said for m in measured) else []
    return (
        Cell((row.id,)), Cell((said.time(*row.utterances),)), Cell(tuple(what)),
        Cell(tuple(values) or ("none said",)), Cell((OUTCOMES[row.outcome],), row.outcome == "fail"),
        Cell((", ".join(row.hypotheses) or "none named",)),
        Cell((said.sure(row.utterances, *doubts),)),
    )  # fmt: skip


def _codes(record: Record, said: Said) -> tuple[Item, ...]:
    first: dict[str, tuple[int, bool]] = {}
    for row in record.utterances:
        for entity in row.entities:
            if entity.get("type") == "dtc" and not row.struck:
                first.setdefault(str(entity.get("code", "")), (row.id, bool(entity.get("inferred"))))
    return tuple(
        Item(code, said.time(u), said.sure([u], *(["part of the code was filled in"] if inferred else [])))
        for code, (u, inferred) in first.items()
    )


def readings(record: Record, said: Said) -> Section:
    """Every reading, setting and limit as said, in the order said."""
    columns = (
        Column("Time", 3), Column("What", 8), Column("Value", 6), Column("Condition", 6),
        Column("Limit said or known", 6), Column("How sure", 5),
    )  # fmt: skip
    ordered = sorted(record.measurements, key=lambda m: said.start(m.utterance))
    rows = tuple(_reading(m, said) for m in ordered)
    block: Block = Table("Readings", columns, rows, head=1) if rows else Note("No reading was narrated.")
    return Section("readings", "Readings", (block,))


def _reading(row: MeasurementRow, said: Said) -> tuple[Cell, ...]:
    role = "" if row.role == "reading" else f" ({row.role})"
    what = sentence(f"{row.component}: {_quantity(row)}" if row.component else _quantity(row)) + role
    doubts = () if row.unit_said else (CONTEXT_UNIT,)
    return (
        Cell((said.time(row.utterance),)), Cell((what,)), Cell((_value(row),)), Cell((row.condition or "",)),
        Cell((limit_words(row, row.limit) if row.limit else "",)),
        Cell((said.sure([row.utterance], *doubts),)),
    )  # fmt: skip


def _quantity(row: MeasurementRow) -> str:
    return row.quantity.replace("_", " ")


def _value(row: MeasurementRow) -> str:
    return units.reading(row.value, row.unit)


def limit_words(row: MeasurementRow, limit: LimitRow) -> str:
    """A limit, who gave it, and on which side of it the reading lies (arithmetic, no verdict)."""
    low = None if limit.low is None else with_sign(units.plain(limit.low), limit.unit)
    high = None if limit.high is None else with_sign(units.plain(limit.high), limit.unit)
    span = (
        f"{low} to {high}"
        if low and high
        else f"{low} or more"
        if low
        else f"{high} or less"
        if high
        else "none"
    )
    value = units.to_unit(row.value, row.unit, limit.unit)
    side = "" if value is None else "; within"
    if value is not None and limit.low is not None and value < limit.low:
        side = "; below"
    elif value is not None and limit.high is not None and value > limit.high:
        side = "; above"
    return f"limit {span} ({limit.source}){side}"
