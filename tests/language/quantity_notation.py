"""Entities of numbers in a short notation, so that data files can be read by people.

``2 bolt 10mm``, ``screw T20 torx``, ``voltage 12.4 V``, ``torque 9 N.m setting``, ``price 81.50 USD``,
``odometer 98400 mi``, ``vehicle 2014 Halden Crest``, ``dtc P0230``, ``vin ...``, ``part HC7740``.
"""

from __future__ import annotations

from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.language.unsaid import Memory
from narrator.values import (
    Entity,
    Fastener,
    Measurement,
    Odometer,
    PartNumber,
    Price,
    TroubleCode,
    Vehicle,
    Vin,
)

SORTS = (Fastener, Measurement, Odometer, PartNumber, Price, TroubleCode, Vehicle, Vin)


def render(entity: Entity) -> str:
    """One entity in the notation."""
    match entity:
        case Fastener():
            size = entity.size
            said = (
                f"T{size.value:g}"
                if size and size.unit == "T"
                else f"{size.value:g}{size.unit}"
                if size
                else ""
            )
            parts = [str(entity.count or ""), entity.kind, said, entity.drive or ""]
        case Measurement():
            role = "" if entity.role == "reading" else entity.role
            parts = [
                entity.quantity,
                f"{entity.value:g}",
                entity.unit or "",
                role,
                "range" if entity.range else "",
            ]
        case Odometer():
            parts = ["odometer", str(entity.value), entity.unit]
        case PartNumber():
            parts = ["part", entity.number]
        case Price():
            parts = ["price", str(entity.amount), entity.currency or ""]
        case TroubleCode():
            parts = ["dtc", entity.code]
        case Vehicle():
            parts = ["vehicle", str(entity.year or ""), entity.make or "", entity.model or ""]
        case Vin():
            parts = ["vin", entity.vin]
        case _:
            raise TypeError(entity)
    return " ".join(p for p in parts if p)


def session(texts: list[str]) -> list[Notes]:
    """The workspaces of utterances that follow each other in one session."""
    memory = Memory()
    out = []
    for doc in pipeline().pipe(texts):
        memory.supply(doc._.notes)
        out.append(doc._.notes)
    return out


def understood(texts: list[str]) -> list[list[str]]:
    """What each utterance of a session holds, in the notation, in order of place."""
    return [
        [render(e) for e in sorted(notes.entities, key=lambda e: e.at) if isinstance(e, SORTS)]
        for notes in session(texts)
    ]
