"""The readable form of an utterance: repairs made, fillers and withdrawn words out, values as figures."""

from __future__ import annotations

import tomllib
from functools import lru_cache

from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import Entity, Fastener, Measurement, Odometer, PartNumber, Price, TroubleCode, Vin


@lru_cache(maxsize=1)
def fillers() -> frozenset[str]:
    """Sounds and words that carry nothing (grammars/fillers.toml)."""
    rows = tomllib.loads((GRAMMARS / "fillers.toml").read_text(encoding="utf-8"))
    return frozenset(rows["fillers"])


_SIGNS = {
    "Ohm": "Ω",
    "kOhm": "kΩ",
    "Cel": "°C",
    "degF": "°F",
    "N.m": "N·m",
    "ft.lbf": "ft·lbf",
    "in.lbf": "in·lbf",
}

_VALUES = frozenset((Measurement, TroubleCode, Vin, PartNumber, Odometer, Price, Fastener))
"""What may read in figures."""


def unit_sign(unit: str) -> str:
    """A contract unit symbol as a sheet prints it."""
    return _SIGNS.get(unit, unit)


def figures(entity: Entity) -> str | None:
    """How a value reads in figures, or None where the spoken words should stay."""
    if isinstance(entity, Measurement) and entity.unit and entity.unit_said and not entity.range:
        if not entity.settled:
            return f"{entity.value:g}°"
        space = "" if entity.unit == "%" else " "
        return f"{entity.value:g}{space}{unit_sign(entity.unit)}"
    if isinstance(entity, TroubleCode):
        return entity.code
    if isinstance(entity, Vin):
        return entity.vin
    if isinstance(entity, PartNumber):
        return entity.number
    if isinstance(entity, Odometer):
        return f"{entity.value:,} {entity.unit}".replace(",", " ")
    if isinstance(entity, Price) and entity.currency:
        return f"{entity.amount:.2f} {entity.currency}"
    if (
        isinstance(entity, Fastener)
        and entity.count_said
        and entity.count
        and entity.size
        and not entity.drive
    ):
        name = entity.kind if entity.count == 1 else f"{entity.kind}s"
        return f"{entity.count} × {entity.size.value:g} {entity.size.unit} {name}"
    return None


def clean_text(notes: Notes) -> str:
    """The utterance as a sheet shows it; an utterance without words is given back as heard."""
    if not notes.words:
        return notes.heard.strip()
    dropped = notes.scratch.get("dropped")
    gone = {i for at in dropped for i in range(*at)} if isinstance(dropped, list) else set()
    starts: dict[int, tuple[int, str]] = {}
    values = [e for e in notes.entities if type(e) in _VALUES]
    for entity in sorted(values, key=lambda e: e.at[0] - e.at[1]):
        text = figures(entity)
        free = text is not None and all(
            not (s < entity.at[1] and entity.at[0] < e) for s, (e, _) in starts.items()
        )
        if free and text is not None:
            starts[entity.at[0]] = entity.at[1], text
    if starts or gone or notes.marks:
        sentence = _sentence(notes, starts, gone)
    else:
        left_out = fillers()
        sentence = " ".join([word for word in notes.words if word not in left_out]).replace(" '", "'")
    return sentence[:1].upper() + sentence[1:] if sentence else notes.heard.strip()


def _sentence(notes: Notes, starts: dict[int, tuple[int, str]], gone: set[int]) -> str:
    """The words and marks, with the figures that stand for some of them and without the words ``gone``."""
    out: list[str] = []
    left_out, i, kept = fillers(), 0, True
    while i < len(notes.words):
        mark = notes.marks.get(i)
        if mark and out and mark in ",;:.?!" and (kept or mark != ","):
            out[-1] += mark  # no comma behind a word that is left out: "to thirty, no, thirty five"
        kept = True
        if i in starts:
            end, text = starts[i]
            out.append(text)
            i = end
            continue
        word = notes.words[i]
        kept = i not in gone and word not in left_out
        if kept:
            if word.startswith("'") and out:
                out[-1] += word
            else:
                out.append(word)
        i += 1
    closing = notes.marks.get(len(notes.words), "")
    return " ".join(out).strip() + (closing if closing and closing in ".?!" else "")
