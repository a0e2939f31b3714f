"""A line that remembers what the ledgers asked of it and found: the ground of every derived value.

Only ``narrator explain`` uses it; it slows the ledgers, and changes nothing that they do.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from types import FrameType
from typing import TypeVar

from narrator.job.line import Line
from narrator.values import Act, Component, Cue, Entity, Material, Span, Understood

E = TypeVar("E", bound=Entity)

_ROOM = __name__.rpartition(".")[0]
_BELOW = {__name__, Line.__module__}
_COMPILER = "compile_record"


@dataclass(frozen=True, slots=True)
class Asked:
    """A question that was answered with yes.

    ``ledger`` is the class or function that the compiler called, ``by`` the function that asked; ``kind`` is
    *act*, *cue* or *entity*, ``name`` the act, the cue's name or the entity's rule, ``span`` its words.
    """

    ledger: str
    by: str
    kind: str
    name: str
    span: Span | None = None


class TracedLine(Line):
    """A ``Line`` that keeps in ``asked`` what was asked and met, each once, in order."""

    def __init__(self, understood: Understood) -> None:
        self.asked: dict[Asked, None] = {}
        self.judged_with: tuple[Sequence[Line], Sequence[Line]] | None = None
        """The lines of the test or verification that it ends, and those after it."""
        super().__init__(understood)

    def judged(self, before: Sequence[Line], after: Sequence[Line]) -> None:
        """See ``Line``."""
        self.judged_with = before, after

    def does(self, *acts: Act) -> bool:
        """See ``Line``."""
        for act in acts:
            if act in self.acts:
                self._note("act", act)
        return super().does(*acts)

    def those(self, acts: Iterable[Act]) -> frozenset[Act]:
        """See ``Line``."""
        found = super().those(acts)
        for act in acts:
            if act in found:
                self._note("act", act)
        return found

    def entities(self, kind: type[E]) -> list[E]:
        """See ``Line``."""
        found = super().entities(kind)
        for entity in found:
            self._note("entity", f"{entity.type} {entity.rule}", entity.span)
        return found

    @property
    def components(self) -> list[Component]:
        """See ``Line``; asked anew each time, so that every asker is noted."""
        return self.entities(Component)

    @components.setter
    def components(self, found: list[Component]) -> None:
        """Keeps nothing: they are asked for."""

    @property
    def materials(self) -> list[Material]:
        """See ``Line``."""
        return self.entities(Material)

    @materials.setter
    def materials(self, found: list[Material]) -> None:
        """Keeps nothing: they are asked for."""

    def cues(self, prefix: str) -> list[Cue]:
        """See ``Line``."""
        found = super().cues(prefix)
        for cue in found:
            self._note("cue", cue.name, cue.span)
        return found

    def has(self, *prefixes: str) -> bool:
        """See ``Line``."""
        for prefix in prefixes:
            self.cues(prefix)
        return super().has(*prefixes)

    def which(self, prefixes: Iterable[str]) -> list[float]:
        """See ``Line``."""
        return [float(self.has(prefix)) for prefix in prefixes]

    def _note(self, kind: str, name: str, span: Span | None = None) -> None:
        chain = list(_askers(sys._getframe(1)))
        if chain:
            self.asked[Asked(chain[-1].partition(".")[0], chain[0], kind, name, span)] = None


def _askers(frame: FrameType | None) -> Iterator[str]:
    """Functions of this room from the one that asks up to the one that the compiler called."""
    while frame is not None:
        module, code = frame.f_globals.get("__name__", ""), frame.f_code
        if code.co_name == _COMPILER:
            return
        inner = code.co_name.startswith("<")  # a comprehension belongs to its function
        if str(module).startswith(_ROOM) and module not in _BELOW and not inner:
            yield code.co_qualname
        frame = frame.f_back
