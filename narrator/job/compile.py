"""What was understood, compiled into one record: the ledgers run over it in order."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import Any

from narrator.job.balance import balanced
from narrator.job.checks import Checks
from narrator.job.clock_and_torque import settle_clock_and_torque
from narrator.job.degrees import settle_degrees
from narrator.job.diagnosis import Diagnosis
from narrator.job.dollars import settle_dollars
from narrator.job.fasteners import FastenerLedger
from narrator.job.in_order import by_own_number, by_place
from narrator.job.line import Line
from narrator.job.measures import Measures, vehicle
from narrator.job.open_items import open_items
from narrator.job.parts import Parts
from narrator.job.record import LookRow, Record, RepairRow, UtteranceRow
from narrator.job.stage import Stage
from narrator.job.work import Verifications, Work, cautions
from narrator.rules import rules_version
from narrator.values import (
    Act,
    Component,
    Entity,
    Fastener,
    Material,
    Measurement,
    Odometer,
    PartNumber,
    Position,
    Price,
    Size,
    Tool,
    TroubleCode,
    Understood,
    Vehicle,
    Vin,
)

_DIAGNOSIS: frozenset[Act] = frozenset(("hypothesis", "ruled_out", "confirmed"))
_FIELDS: dict[type[Entity], tuple[str, ...]] = {
    Fastener: ("kind", "count", "size", "drive", "new", "other"),
    Measurement: ("quantity", "value", "unit", "role", "unit_said", "range"),
    Component: ("name",),
    Position: ("name",),
    Tool: ("name",),
    Material: ("name",),
    TroubleCode: ("code", "inferred"),
    Vin: ("vin", "check"),
    PartNumber: ("number",),
    Price: ("amount", "currency"),
    Vehicle: ("year", "make", "model"),
    Odometer: ("value", "unit"),
}
_AFTER = 3
"""So many lines ahead tell whether a check was still looking for the cause."""
_USUAL = {"new": False, "other": "", "range": False, "inferred": False, "unit_said": True, "role": "reading"}
"""What is not written where it is so."""


def entity_row(entity: Entity) -> dict[str, Any]:
    """An entity as the contract's JSON object, with the span and rule it came from."""
    row: dict[str, Any] = {"type": entity.type}
    for name in _FIELDS[type(entity)]:
        value = getattr(entity, name)
        if name not in _USUAL or value != _USUAL[name]:
            row[name] = value if value is None or isinstance(value, str) else _written(value)
    row["span"], row["rule"] = list(entity.span), entity.rule
    return row


def _written(value: object) -> object:
    """A value as JSON has it."""
    if isinstance(value, Size):
        return {"value": plain_number(value.value), "unit": value.unit}
    if isinstance(value, Decimal):
        return f"{value:.2f}"
    return plain_number(value) if isinstance(value, float) else value


def plain_number(value: float) -> float | int:
    """A whole float as an int, so that 10.0 is written 10."""
    return int(value) if value == int(value) else value


def compile_record(
    understood: Iterable[Understood],
    rules: str | None = None,
    make_line: Callable[[Understood], Line] = Line,
) -> Record:
    """Compile one session's record: every ledger reads every line once, in order.

    ``rules`` is the version to write on it, by default the one in force; ``make_line`` may give lines that
    watch what is asked of them (``narrator.job.trace``).
    """
    rows: list[UtteranceRow] = []
    diagnosis, checks, fasteners = Diagnosis(), Checks(), FastenerLedger()
    work, parts, verifications, measures = Work(), Parts(), Verifications(), Measures()
    stage = Stage()
    looks: list[LookRow] = []
    lines, given = by_place(list(understood))
    settled = list(settle_dollars(settle_clock_and_torque(settle_degrees(lines))))
    told = [make_line(one) for one in settled]
    for n, one in enumerate(settled):
        rows.append(utterance_row(one))
        looks += [
            LookRow(kind=k.kind, reason=k.reason, utterance=k.utterance, span=k.span) for k in one.looks
        ]
        line = told[n]
        role = stage.role(line, diagnosis, checks.waiting, told[n + 1 : n + 1 + _AFTER])
        checks.read(line, role, diagnosis)
        diagnosis.read(line, checks.tried)
        fasteners.read(line)
        work.read(line, diagnosis.settled, parts.read(line))
        verifications.read(line, role)
        measures.read(line, checks.focus)
    tests = checks.rows(diagnosis)
    heard = fasteners.rows()
    diagnosis.close()
    hypotheses, checked = diagnosis.rows(), verifications.rows()
    fastener_rows, unlike = balanced(fasteners, told)
    record = Record(
        rules=rules_version() if rules is None else rules,
        vehicle=vehicle(told),
        utterances=rows,
        hypotheses=hypotheses,
        tests=tests,
        corrections=work.corrections,
        verifications=checked,
        fasteners=fastener_rows,
        parts=parts.rows,
        measurements=measures.rows,
        open_items=open_items(told, heard, hypotheses, checked, work.corrections),
        steps=work.steps,
        cautions=cautions(told),
        looks=[*looks, *unlike],
    )
    for line in told:  # whoever watches them (``make_line``) is told their own numbers too
        line.id = given.get(line.id, line.id)
    return by_own_number(record, given)


def _only_names(entity: Entity, acts: tuple[Act, ...]) -> bool:
    """Whether a part is said only to name its fastener (*the hub nut*), and no suspicion is about it."""
    return isinstance(entity, Component) and entity.owner and _DIAGNOSIS.isdisjoint(acts)


def _is_listed(entity: Entity, one: Understood) -> bool:
    """Whether the record lists an entity of the line: not what is named only by the way."""
    return entity.at not in one.unlisted and not _only_names(entity, one.acts)


def utterance_row(one: Understood) -> UtteranceRow:
    """An utterance as the record lists it."""
    return UtteranceRow(
        id=one.utterance.id,
        start=one.utterance.start,
        end=one.utterance.end,
        text=one.utterance.text,
        clean=one.clean,
        acts=list(one.acts),
        entities=[entity_row(e) for e in one.entities if _is_listed(e, one)],
        repairs=[RepairRow(span=r.span, heard=r.heard, meant=r.meant, rule=r.rule) for r in one.repairs],
    )
