"""Work and what came of it, told in one breath: *new impeller in, telltale's going like a good one*.

The acts of such a line are mostly those of its first half. Here is told whether a line first mends what was
settled as the cause, and then how the machine does now, which is no more work and nothing of the part alone
(*new pin in, and it slides like silk*).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from narrator.job.line import Line
from narrator.job.plain_result import plainly
from narrator.job.suspect import Suspect
from narrator.job.suspect_words import suspect_words
from narrator.values import Fastener, Measurement, PartNumber, Price

_W = suspect_words()
_MENDS = ("motion.on", "work.change")
_CONCLUDES = ("clear", "confirm", "settle", "hedge")
_JOINTS = frozenset(("and", "but", "then"))
_HEAD = 8
"""So many words at most tell of the work."""
_READ = frozenset(("voltage", "pressure", "temperature", "current", "speed", "frequency", "ratio"))
"""What is read of a machine that runs; not a torque, a length or how much went in."""
_LOOSE = 0.45
_IT = frozenset("it that them those him her".split())


def mends_and_looks(line: Line, causes: Sequence[Suspect]) -> bool:
    """Whether a line tells of work on a cause and, behind it, of what the machine does now."""
    if not causes or line.does("concern", "aside", "hypothesis", "plan"):
        return False
    if line.does("ruled_out", "confirmed") and line.has(*_CONCLUDES):
        return False
    if not _may_mend(line):
        return False
    clauses = _clauses(line)
    if len(clauses) < 2 or not _mends(line, clauses[0], causes):
        return False
    return any(_tells(line, clause) for clause in clauses[1:])


def _may_mend(line: Line) -> bool:
    """Whether there are two stretches, and words or cues of work: most lines have not."""
    if not line.breaks and _JOINTS.isdisjoint(line.tokens):
        return False
    cues = line.understood.cues
    return not _W["cure.work"].isdisjoint(line.tokens) or any(c.name.startswith(_MENDS) for c in cues)


def _clauses(line: Line) -> list[tuple[int, int]]:
    """The stretches of a line between its breaks and the words that join sentences."""
    inside = {i for c in line.components for i in range(c.at[0], c.at[1])}
    cuts = {i for i, word in enumerate(line.tokens) if word in _JOINTS and i not in inside} | line.breaks
    ends = sorted(cuts | {0, len(line.tokens)})
    return [(a, b) for a, b in pairwise(ends) if b > a]


def _mends(line: Line, clause: tuple[int, int], causes: Sequence[Suspect]) -> bool:
    """Whether a stretch tells of work on a cause, by its name or as *it*: *spliced it*, *new reed on*."""
    start, end = clause
    named = [c for c in line.components if start <= c.at[0] < end]
    words = line.tokens[start:end]
    if not named:
        return words[0] in _W["cure.work"] and not _IT.isdisjoint(words[1:2])
    meant = any(cause.fit(c.name) >= _LOOSE for c in named for cause in causes)
    works = any(start <= cue.at[0] and cue.at[1] <= end for kind in _MENDS for cue in line.cues(kind))
    return meant and end - start <= _HEAD and (works or not _W["cure.work"].isdisjoint(words))


def _tells(line: Line, clause: tuple[int, int]) -> bool:
    """Whether a stretch tells how the machine does: by what it does now, a reading, or that all is well."""
    start, end = clause
    words = [w for w in line.tokens[start:end] if w not in _JOINTS]
    if len(words) < 2 or not _W["cure.puts_off"].isdisjoint(words):
        return False
    counted = any(f.count or f.size for f in line.entities(Fastener) if start <= f.at[0] < end)
    sold = any(start <= e.at[0] < end for kind in (Price, PartNumber) for e in line.entities(kind))
    if counted or sold:
        return False
    if plainly(words) is not None or not _W["cure.runs"].isdisjoint(words):
        return True
    if any(a in _W["cure.subjects"] and b == "goes" for a, b in pairwise(words)):
        return True
    if words[0] in _W["cure.well"] and not _W["cure.state"].isdisjoint(words[1:]):
        return True
    read = [m for m in line.entities(Measurement) if start <= m.at[0] < end and m.quantity in _READ]
    return start in line.breaks and any(m.role == "reading" for m in read)
