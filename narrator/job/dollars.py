"""Plain dollars and amounts without a currency, settled by what the session's later words tell."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from narrator.values import Entity, Price, Understood

_PLAIN = "USD"
_SAID = "money.usd"
_UNSAID = frozenset(("money.cue", "money.even", "money.network"))
"""Rules of amounts whose currency was not said beside them."""


def settle_dollars(understood: Iterable[Understood]) -> list[Understood]:
    """The session's lines, with plain dollars as those of the country told last, if any was.

    An amount without a currency follows, where plain dollars are said anywhere; where nothing had told
    one, it is in the currency said first after it; where none is ever said, in that of the country told.
    """
    lines = _never_named(_named_later(list(understood)))
    code = next((one.dollars for one in reversed(lines) if one.dollars), None)
    if code in (None, _PLAIN) or not any(_said(e) for one in lines for e in one.entities):
        return lines
    return [_settled(one, str(code)) for one in lines]


def _named_later(lines: Sequence[Understood]) -> list[Understood]:
    """The lines, with the amounts before the first currency said as in that currency."""
    for n, one in enumerate(lines):
        said = [
            e.currency for e in one.entities if isinstance(e, Price) and e.rule not in _UNSAID and e.currency
        ]
        if said:
            return [*(_in_currency(line, said[0]) for line in lines[: n + 1]), *lines[n + 1 :]]
    return list(lines)


def _never_named(lines: list[Understood]) -> list[Understood]:
    """The lines, with amounts in the money of the country that the words told, where no currency is said."""
    prices = [e for one in lines for e in one.entities if isinstance(e, Price)]
    money = next((one.money for one in reversed(lines) if one.money), None)
    if money is None or any(e.rule not in _UNSAID for e in prices):
        return lines
    return [_in_currency(line, money) for line in lines]


def _in_currency(one: Understood, code: str) -> Understood:
    if not any(isinstance(e, Price) and e.rule in _UNSAID and e.currency != code for e in one.entities):
        return one
    entities = tuple(
        replace(e, currency=code) if isinstance(e, Price) and e.rule in _UNSAID else e for e in one.entities
    )
    return replace(one, entities=entities)


def _said(entity: Entity) -> bool:
    return isinstance(entity, Price) and entity.rule == _SAID


def _settled(one: Understood, code: str) -> Understood:
    if not any(isinstance(e, Price) for e in one.entities):
        return one
    entities = tuple(
        replace(e, currency=code) if isinstance(e, Price) and (_said(e) or e.currency == _PLAIN) else e
        for e in one.entities
    )
    return replace(one, entities=entities)
