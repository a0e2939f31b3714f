"""The readable form of an utterance: repairs made, fillers and withdrawn words out, values as figures."""

from __future__ import annotations

import tomllib
from functools import lru_cache

from narrator.language.tokens import Notes
from narrator.paths import GRAMMARS
from narrator.values import Entity, Fastener, Measurement, Odometer, PartNumber, Price, TroubleCode, Vin
from narrator.wording import with_sign


@lru_cache(maxsize=1)
def fillers() -> frozenset[str]:
    """Sounds and words that carry nothing (grammars/fillers.toml)."""
    rows = tomllib.loads((GRAMMARS / "fillers.toml").read_text(encoding="utf-8"))
    return frozenset(rows["fillers"])


_SHOWN, _CLOSING = frozenset(",;:.?!"), frozenset(".?!")
"""Marks that stand in a sentence, and such as may end it."""
_VALUES = frozenset((Measurement, TroubleCode, Vin, PartNumber, Odometer, Price, Fastener))
"""What may read in figures."""


def figures(entity: Entity) -> str | None:
    """How a value reads in figures, or None where the spoken words should stay."""
    if isinstance(entity, Measurement) and entity.unit and entity.unit_said and not entity.range:
        if not entity.settled:
            return f"{entity.value:g}°"
        return with_sign(f"{entity.value:g}", entity.unit)
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
    values = [e for e in notes.entities if type(e) in _VALUES]
    starts = _in_figures(values) if values else {}
    if starts or gone or not fillers().isdisjoint(notes.words):
        sentence = _sentence(notes, starts, gone)
    else:
        sentence = _as_said(notes)
    return sentence[:1].upper() + sentence[1:] if sentence else notes.heard.strip()


def _in_figures(values: list[Entity]) -> dict[int, tuple[int, str]]:
    """Where figures stand for words: first token to one past the last and what stands there, the longest."""
    starts: dict[int, tuple[int, str]] = {}
    for entity in sorted(values, key=lambda e: e.at[0] - e.at[1]):
        text = figures(entity)
        if text is not None and not any(
            s < entity.at[1] and entity.at[0] < e for s, (e, _) in starts.items()
        ):
            starts[entity.at[0]] = entity.at[1], text
    return starts


def _as_said(notes: Notes) -> str:
    """The words and marks of a line in which every word stands: most are such."""
    out, last = notes.words[:], len(notes.words)
    for i, mark in notes.marks.items():
        if 0 < i < last and mark in _SHOWN:
            out[i - 1] += mark
    closing = notes.marks.get(last, "")
    return " ".join(out).replace(" '", "'") + (closing if closing in _CLOSING else "")


def _sentence(notes: Notes, starts: dict[int, tuple[int, str]], gone: set[int]) -> str:
    """The words and marks, with the figures that stand for some of them and without the words ``gone``."""
    out: list[str] = []
    words, marks, left_out, i, kept = notes.words, notes.marks, fillers(), 0, True
    while i < len(words):
        if (mark := marks.get(i)) and out and mark in _SHOWN and (kept or mark != ","):
            out[-1] += mark  # no comma behind a word that is left out: "to thirty, no, thirty five"
        kept = True
        if i in starts:
            end, text = starts[i]
            out.append(text)
            i = end
            continue
        word = words[i]
        kept = word not in left_out and i not in gone
        if kept:
            if word[0] == "'" and out:
                out[-1] += word
            else:
                out.append(word)
        i += 1
    closing = marks.get(len(words), "")
    return " ".join(out).strip() + (closing if closing in _CLOSING else "")
