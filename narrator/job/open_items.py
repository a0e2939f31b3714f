"""What is left open when a job ends: plans, findings put off, fasteners not back, suspects never settled."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property

from narrator.job.line import Line
from narrator.job.motion import Motion
from narrator.job.naming import likeness
from narrator.job.outcome import tone
from narrator.job.record import CorrectionRow, FastenerRow, HypothesisRow, OpenItemRow, VerificationRow
from narrator.job.suspect_words import suspect_words
from narrator.job.trouble import in_trouble
from narrator.job.work import deeds
from narrator.values import Act, Fastener

_LATER = suspect_words()["later.words"]
_TIGHT = dict.fromkeys(("torque", "torqued", "torquing"), "tighten")
_DEEDS = _TIGHT | deeds()
_SAME = 0.7
_GOES_ON: tuple[Act, ...] = ("step", "test", "result", "confirmed", "ruled_out", "hypothesis")
_BAD = -1.0
"""Log odds from which a finding made after the repair was checked is bad news, and so left for later."""


def open_items(
    lines: Sequence[Line],
    fasteners: Sequence[FastenerRow],
    suspects: Sequence[HypothesisRow] = (),
    checks: Sequence[VerificationRow] = (),
    work: Sequence[CorrectionRow] = (),
) -> list[OpenItemRow]:
    """The contract's open items, in the order of the lines, fasteners last."""
    checked = {u for row in checks for u in row.utterances}
    last_step = max((n for n, line in enumerate(lines) if line.does("step")), default=-1)
    closing = max((n for n, line in enumerate(lines) if line.id in checked), default=len(lines))
    short = {u for row in fasteners if row.removed > row.installed for u in row.utterances}
    later = _Later(lines)
    rows = [
        OpenItemRow(text=line.understood.clean, utterance=line.id)
        for n, line in enumerate(lines)
        if (line.does("plan") and n > min(last_step, closing))
        or (n > closing and _put_off(line))
        or _left_over(line)
        or (_missing(line) and line.id not in short)
        or (_deferred(line, n, n > closing, later) and not later.done(line, n))
    ]
    return [*rows, *_unsettled(suspects, checks, work), *_not_back(fasteners)]


def _put_off(line: Line) -> bool:
    """A finding or a piece of work that is left for another day."""
    if line.does("aside", "verification", "confirmed", "ruled_out") or line.has("motion.on"):
        return False
    if not _LATER.isdisjoint(line.tokens):
        return bool(line.components or line.materials or line.entities(Fastener))
    return line.does("observation", "result") and bool(line.components) and tone(line) < _BAD


class _Later:
    """Until which line a job goes on, and each deed is done and each thing worked on.

    Worked out once, where it is asked for: to look from each line through all that follow takes the square of
    their number.
    """

    def __init__(self, lines: Sequence[Line]) -> None:
        self._lines = lines

    @cached_property
    def _goes_on(self) -> int:
        return max((n for n, line in enumerate(self._lines) if line.does(*_GOES_ON)), default=-1)

    @cached_property
    def _last(self) -> tuple[dict[str, int], dict[str, int]]:
        deeds: dict[str, int] = {}
        things: dict[str, int] = {}
        for n, line in enumerate(self._lines):
            if line.does("step", "test", "result", "verification", "ruled_out") and not line.has("deferred"):
                deeds.update(dict.fromkeys(_deeds_of(line), n))
                things.update(dict.fromkeys(_things(line), n))
        return deeds, things

    def goes_on(self, n: int) -> bool:
        """Whether work or talk of the fault follows line ``n``."""
        return self._goes_on > n

    def done(self, line: Line, n: int) -> bool:
        """Whether what line ``n`` puts off was done: the deed that it names, else work on its thing."""
        deeds, things = self._last
        own = _deeds_of(line)
        last, named = (deeds, own) if own else (things, _things(line))
        return any(last.get(one, -1) > n for one in named)


def _deferred(line: Line, n: int, closed: bool, later: _Later) -> bool:
    """*Left the end cover off till it comes*, *chain's worn, tell him*; ``closed``: after the check."""
    if not line.has("deferred") or line.does("aside", "concern", "caution", "ruled_out", "part"):
        return False
    if not (closed or _things(line) or _deeds_of(line)) and later.goes_on(n):
        return False  # "leave that for now and try the relay"
    return closed or not line.does("hypothesis", "confirmed", "verification")


def _deeds_of(line: Line) -> set[str]:
    """What is done or to be done, by its verbs: *bleeding* and *bled* are one."""
    return {_DEEDS[word] for word in _DEEDS.keys() & line.tokens}


def _things(line: Line) -> set[str]:
    """What a line names, by the last word of each part and the kind of each fastener."""
    names = [c.name for c in line.components] + [m.name for m in line.materials]
    return {name.rsplit(maxsplit=1)[-1] for name in names} | {f.kind for f in line.entities(Fastener)}


def _left_over(line: Line) -> bool:
    told = line.does("observation", "hypothesis", "plan")
    return told and line.has("left_over") and bool(line.entities(Fastener))


def _missing(line: Line) -> bool:
    """*Undertray back up with the eight, two still missing*: told while it goes back, and still so."""
    if not line.does("step") or "missing" not in line.tokens:
        return False
    motion = Motion(line)
    return motion.says_on() and in_trouble(motion) > 0


def _unsettled(
    suspects: Sequence[HypothesisRow], checks: Sequence[VerificationRow], work: Sequence[CorrectionRow]
) -> Iterator[OpenItemRow]:
    """Suspects still open where no cause was settled, or the last check of the repair failed.

    What was mended before a check that went well is not among them, though nobody called it the cause.
    """
    solved = any(row.status == "confirmed" for row in suspects)
    if solved and not (checks and checks[-1].outcome == "fail"):
        return
    for row in suspects:
        well = bool(checks) and checks[-1].outcome == "pass"
        if well and any(likeness(done.component, row.component) >= _SAME for done in work):
            continue
        if row.status == "open" and row.history:
            yield OpenItemRow(
                text=f"not settled: {row.component} ({row.statement})", utterance=row.history[-1].utterance
            )


def _not_back(fasteners: Sequence[FastenerRow]) -> Iterator[OpenItemRow]:
    """Fasteners of which fewer were said to go back than came off."""
    for row in fasteners:
        if row.removed > row.installed:
            size = f" {row.size.value:g} {row.size.unit}" if row.size else ""
            where = f" ({row.location})" if row.location else ""
            left = row.removed - row.installed
            yield OpenItemRow(
                text=f"{left} of {row.removed}{size} {row.kind}{where} not said to be back; left over",
                utterance=row.utterances[-1],
            )
