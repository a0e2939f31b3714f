"""Spoken units that the words of one utterance do not settle, settled by what the session measured last.

*Mil* is milliamperes in the middle of a draw test; *pounds* are psi at a gauge and foot-pounds at a wrench.
Only an utterance that says nothing to the contrary follows the last reading.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from narrator.language.context import role_of
from narrator.language.tables import fired, load
from narrator.language.tokens import Notes
from narrator.values import Fastener, Measurement

if TYPE_CHECKING:
    from narrator.language.unsaid import Memory

AGE = 5
"""How many utterances ago the last reading may lie."""
FOCUS = 3
"""The same for words that only told what was about to be measured."""


@dataclass(frozen=True, slots=True)
class _Row:
    """``unit`` is the rule of the spoken unit as it stands; ``to`` maps a reading's symbol to quantity."""

    id: str
    unit: str
    to: dict[str, str]
    focus: dict[str, str]
    ready: dict[str, str]
    stays: frozenset[str]
    needs: frozenset[str]


_ROWS = {
    row["unit"]: _Row(
        row["id"],
        row["unit"],
        row["to"],
        row["focus"],
        row["ready"],
        *(frozenset(row[w]) for w in ("stays", "needs")),
    )
    for row in load("quantities")["session"]
}


def resettle(memory: Memory, notes: Notes) -> None:
    """Give each such unit of the utterance the meaning that it has in this session."""
    for n, entity in enumerate(notes.entities):
        if isinstance(entity, Measurement) and (row := _ROWS.get(entity.rule)):
            if not row.stays.isdisjoint(notes.words) or any(isinstance(e, Fastener) for e in notes.entities):
                continue
            ready = _ready(memory, row)
            if not ready and row.needs and row.needs.isdisjoint(notes.words):
                continue
            if (symbol := ready or _symbol(memory, row)) and symbol != entity.unit:
                quantity = row.to[symbol]
                role = role_of(notes, entity.at, quantity, entity.range)
                notes.entities[n] = replace(entity, rule=row.id, quantity=quantity, unit=symbol, role=role)
                fired(notes, row.id)


def _ready(memory: Memory, row: _Row) -> str | None:
    """The symbol of what the line before set up to be read (*into a measuring tube*, *now we weigh it*)."""
    turn, told = memory.set_up
    fits = sorted(told & row.ready.keys()) if memory.turn - turn <= FOCUS else []
    return row.ready[fits[0]] if fits else None


def _symbol(memory: Memory, row: _Row) -> str | None:
    """The symbol that the session's last word on the matter speaks for."""
    told = [
        (turn, row.focus[q]) for turn, q in memory.focus if q in row.focus and memory.turn - turn <= FOCUS
    ]
    read = [(r.turn, row.to.get(r.unit) and r.unit) for r in memory.readings if memory.turn - r.turn <= AGE]
    return max([*told, *read], key=lambda one: one[0], default=(0, None))[1]
