"""Plain dollars said before anything told whose they are, settled by what the session's later words tell."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from narrator.values import Entity, Price, Understood

_PLAIN = "USD"
_SAID = "money.usd"


def settle_dollars(understood: Iterable[Understood]) -> list[Understood]:
    """The session's lines, with plain dollars as those of the country told last, if any was.

    An amount without a currency follows, where plain dollars are said anywhere.
    """
    lines = list(understood)
    code = next((one.dollars for one in reversed(lines) if one.dollars), None)
    if code in (None, _PLAIN) or not any(_said(e) for one in lines for e in one.entities):
        return lines
    return [_settled(one, str(code)) for one in lines]


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
