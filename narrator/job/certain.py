"""What the network has no doubt of: that some fasteners go on, or come off."""

from __future__ import annotations

from narrator.job.groups import Group, matching, near
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.refits import is_silent

_SURE = 0.9
"""From which share on it has none."""


def surely_on(motion: Motion, m: Mention) -> bool:
    """Whether some surely go on."""
    return motion.line.surely_moves(m.start, m.end, _SURE, on=True)


def surely_off(motion: Motion, m: Mention) -> bool:
    """Whether some surely come off."""
    return motion.line.surely_moves(m.start, m.end, _SURE, on=False)


def is_back(m: Mention, groups: list[Group]) -> bool:
    """Whether what a mention can mean came off and went back already, so that it is only told again."""
    return any(g.removed and g.off <= 0 for g in matching(groups, m))


def is_quiet(motion: Motion, m: Mention, held: list[Group]) -> bool:
    """*The guard is flapping by its one bolt*: one of which some are off, where surely nothing moves."""
    one = bool(held) and m.definite and m.count == 1 and not m.new
    return one and is_silent(motion.line)


def fits_some(motion: Motion, m: Mention, held: list[Group]) -> bool:
    """Whether so many are off as *its five* tell, or, where they surely go on, more at the part named."""
    if any(g.off == m.count for g in held):
        return True
    return surely_on(motion, m) and any(near(g, m.place) and g.off > (m.count or 0) for g in held)
