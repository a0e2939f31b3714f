"""One test while the session is read, and what ``checks.py`` asks of single lines."""

from __future__ import annotations

from dataclasses import dataclass, field

from narrator.job.findings import against_limit
from narrator.job.line import Line
from narrator.job.naming import SIDES, likeness
from narrator.job.outcome import tone
from narrator.values import Component, Measurement

_GIVES = 0.45
"""Score of a result below which a line that is a test as well only sets it up, if a result follows."""
_SHORT = 8
"""A conclusion of so many words at most may hold nothing else."""
_DRAWN = frozenset(("so", "then", "therefore", "means", "hence", "and"))
_OFF = (("off",), ("out",), ("apart",), ("away",))
"""Behind a thing that only was in the way."""
_COPULAS = frozenset(("is", "'s", "are", "was", "were", "looks", "look"))
_NO_READING = frozenset(("time", "angle", "torque"))
_LEADS = frozenset(
    "the a an this that these those both and but oh ah well so now then okay right hello his her my".split()
)
"""Words before the thing that a remark begins with."""
_OWN = 0.6
_PLAIN = 1.0
"""Log odds of a line's own words from which it reports a finding, whatever else it does."""
_FIRST = 1
"""A deed told by the first or second word makes a test of its own."""


@dataclass(slots=True)
class Check:
    """One test while the session is read; ``first`` and ``last`` are places in the session's lines."""

    lines: list[Line]
    first: int
    last: int
    component: str | None
    results: list[Line] = field(default_factory=list)

    def add(self, line: Line, place: int, result: bool) -> None:
        """Take in one more of its lines."""
        self.lines.append(line)
        self.last = place
        if result:
            self.results.append(line)


def only_concludes(line: Line, checked: bool) -> bool:
    """*Okay the governor linkage is ruled out*: words that clear, and no finding among them.

    ``checked``: a test with its result was told right before.
    """
    if not line.does("ruled_out"):
        return False
    if (
        checked
        and line.tokens[0] in _DRAWN
        and len(line.tokens) <= _SHORT
        and not line.has("observe", "result")
    ):
        return not line.entities(Measurement)  # "so pump and regulator are good"
    cleared = line.has("clear.named", "clear.off", "clear.not_it")
    return cleared and len(line.tokens) <= _SHORT and not line.has("polarity", "observe", "result")


def read_in(line: Line) -> bool:
    """*It's nine kilohms at the pins, so it's not the wire*: a conclusion told with its reading."""
    return bool(quantities([line])) and not _DRAWN.isdisjoint(line.tokens)


def describes(before: Line, line: Line) -> bool:
    """*The filter is out, it is grey but a lamp shines through*: work that tells a state."""
    same = any(likeness(c.name, d.name) >= _OWN for c in before.components for d in line.components)
    return same and not _COPULAS.isdisjoint(before.tokens)


def tells(line: Line) -> bool:
    """Whether a line reports a state and no mere deed."""
    return line.does("observation") or line.has("polarity", "observe") or abs(tone(line)) >= _PLAIN


def looked_at(line: Line) -> list[Component]:
    """What a line looks at: not what it only takes off first (*drum off, shoes move free*)."""
    main = line.main_components()
    while len(main) > 1 and line.tokens[main[0].at[1] : main[0].at[1] + 1] in _OFF:
        if main[0].at[1] + 1 not in line.breaks:
            break
        main = main[1:]
    return main


def begins(line: Line, thing: Component) -> bool:
    """Whether a remark begins with a thing: *oh, but the earth strap, it turns with my fingers*."""
    return _LEADS.issuperset(line.tokens[: thing.at[0]])


def other_side(line: Line, before: Line) -> bool:
    """*Left quarter turn and it stops dead*: a remark that begins with the side not tried ``before``."""
    leads, tried = set(line.tokens[: _FIRST + 1]), set(before.tokens)
    return any(leads & pair and tried & (pair - leads) and not leads & tried & pair for pair in SIDES)


def gave(line: Line) -> bool:
    """Whether a line tells what a check gave; one that sets up may only look like it (*27 amps* follows)."""
    if only_sets_up(line):
        return False
    told = abs(tone(line)) >= _PLAIN or against_limit(line) is not None
    return not line.does("test") or (line.acts != {"test"} and told)


def only_sets_up(line: Line) -> bool:
    """Whether a check told with what it gave hardly gave anything, by the act model, and no limit is told."""
    both = line.does("test") and line.does("result")
    return both and 0 < line.likely("result") < _GIVES and against_limit(line) is None


def quantities(lines: list[Line]) -> set[str]:
    """What was read in these lines; how long it took is no reading."""
    return {
        m.quantity
        for line in lines
        for m in line.entities(Measurement)
        if m.role == "reading" and m.quantity not in _NO_READING
    }
