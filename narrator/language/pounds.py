"""*Pounds* that are money: beside a part number, or in a session that pays in sterling.

What weighs, presses or tightens is told by words of the line or by what was measured last (``resettle``);
pounds that are left over are seldom a weight.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from narrator.language.amounts import Amounts
from narrator.language.meaning import act_share, meaning_table
from narrator.language.tables import fired, load
from narrator.language.tokens import Notes
from narrator.values import Measurement, Price

if TYPE_CHECKING:
    from narrator.language.unsaid import Memory

_ROW = load("money")["pounds"][0]
_AGAINST = frozenset(_ROW["against"])
_PART = float(meaning_table()["prices"]["part"])
_CHOSEN = ("unit.pound", "choose.pound")
_RULE = str(_ROW["id"])


def settle_pounds(memory: Memory, notes: Notes) -> None:
    """Turn pounds that nothing told into prices: the session pays in pounds, or the line tells of parts."""
    if "pounds" not in notes.words and "pound" not in notes.words:
        return
    if not _AGAINST.isdisjoint(notes.words):
        return
    sterling = memory.locale.sterling()
    parts = act_share(notes, "part") >= _PART
    for n, entity in enumerate(notes.entities):
        if not isinstance(entity, Measurement) or entity.value < 1:
            continue
        bought = parts and entity.rule.startswith(_CHOSEN) and Amounts(notes).nothing(*entity.at)
        if bought or (sterling and entity.rule == "unit.pound"):
            amount = Decimal(str(round(entity.value, 2))).quantize(Decimal("0.01"))
            notes.entities[n] = Price(
                span=entity.span, at=entity.at, rule=_RULE, amount=amount, currency="GBP"
            )
            fired(notes, _RULE)
