"""Which way a mention of fasteners goes: off, on, both, or no event at all."""

from __future__ import annotations

from typing import Literal

from narrator.job.certain import fits_some, is_back, surely_on
from narrator.job.groups import Group, elsewhere, matching, near, rank, waiting
from narrator.job.ledger_words import ledger_words
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.no_event import CLAUSE, CLEAR, is_priced
from narrator.job.off_and_on import off_and_on

Way = Literal["removed", "installed", "both"] | None
_W = ledger_words()
_CERTAIN = 1.6
_NONE_OFF, _FITS, _MAY, _ALIKE = -1.3, 1.0, 0.7, 0.4
_SMALL = frozenset(("clamp", "clip", "washer", "pin"))


def way(line: Line, motion: Motion, m: Mention, groups: list[Group], *, before: Way, stripping: bool) -> Way:
    """The way a mention goes, None for no event; ``before`` is the way of the mention before it.

    ``stripping``: something came off a moment ago, so that what is only noticed now comes off as well.
    """
    off, on = motion.weigh(m.start, m.end)
    held = waiting(groups, m)
    if (
        before == "removed" and on < CLEAR and on <= off + _MAY
    ):  # what came off a moment ago in the same breath does not go back
        held = [g for g in held if line.id not in g.utterances]
    if m.fits:
        fits = fits_some(motion, m, held)
        return "installed" if fits and off < CLEAR and (line.does("step") or on >= _MAY) else None
    told = m.size is not None or on > 0
    exact = any(g.off == m.count and not elsewhere(g, m.place) and (told or near(g, m.place)) for g in held)
    works = line.does("step") or (m.said and _has_done(motion, m))
    if not works and not _happens(line, motion, m, exact=exact, stripping=stripping):
        return None
    last_one = motion.word(m.start - 1) in _W["count.rest"] or (m.rest and m.count == 1)
    if m.bare and last_one and before == "installed" and held and off < _MAY:
        return "installed"  # "five screws and then the last one"
    if m.bare:
        return _way_bare(m, off, on, held)
    if _says_nothing(m, off, on, bool(held)):
        return None
    if plain := _way_told(line, motion, m, held, exact=exact):
        return plain
    if before in ("removed", "installed") and not held and (motion.goes_on_from(m.start) or m.shared):
        return before  # "with four bolts and nuts"
    sure = not held and off < _MAY and line.does("step") and surely_on(motion, m)
    if sure and (m.said or is_back(m, groups) or (m.size is not None and not m.definite)):
        return None if is_back(m, groups) else "installed"
    lean = on - off + _prior(m, held, stripping) - (_CERTAIN if m.another and stripping else 0.0)
    if before in ("removed", "installed") and max(off, on) < _MAY:
        lean += _MAY if before == "installed" else -_MAY
    if lean > 0 and on < _CERTAIN and not exact and not works:
        return None
    if held:
        return "installed" if lean > 0 else "removed"
    return _way_unheld(motion, m, groups, off, on, lean=lean)


def _way_told(line: Line, motion: Motion, m: Mention, held: list[Group], *, exact: bool) -> Way:
    """The way that plain words tell: new ones, ties, *the two from the old*, *two bolts out and back in*."""
    off = motion.weigh(m.start, m.end)[0]
    if m.new or (m.kind == "tie" and not held and off < CLEAR):
        return "removed" if not m.new and motion.near(m.start, m.end, _W["never.cut"], 4, 6) else "installed"
    from_old = not exact and motion.from_the_old(m.end)  # "new filter in with the two clamps from the old"
    if m.kind == "insert" and off < CLEAR and line.does("step"):
        return "installed"  # "helicoil in that one": it was not there before
    if m.said and (from_old or off_and_on(motion, m.end, swaps=off < CLEAR and not held)):
        return "both"
    return None


def _says_nothing(m: Mention, off: float, on: float, held: bool) -> bool:
    """*plugs before screws*: neither a number nor a size nor any motion."""
    if m.count is not None or m.size is not None or m.new:
        return False
    return (not held and off < _MAY) or (not m.definite and max(off, on) <= 0)


def _way_unheld(
    motion: Motion, m: Mention, groups: list[Group], off: float, on: float, *, lean: float
) -> Way:
    """The way of fasteners of which none is known to be off."""
    if on > max(off, _MAY) and any(g.known == m.count and not g.removed for g in matching(groups, m)):
        return "installed"  # seen before, and nothing said of it coming off
    if m.said and off < CLEAR and motion.fresh(m.start, 20 if m.kind in _SMALL else 8):
        one_in = motion.word(m.start - 1) in _W["on.particles"] and m.kind not in _SMALL
        return "both" if one_in else "installed"
    if m.said and off < _MAY and not _W["on.compounds"].isdisjoint(motion.words[m.end :]):
        return "installed"  # "coupling on the shaft, one grub screw, drop of threadlocker"
    if m.again and m.said and on > off and any(g.installed for g in matching(groups, m)):
        return "both"  # "my last spare fuse goes in, same two nuts"
    if lean <= 0:
        return "removed"
    return "installed" if m.said and not any(g.installed for g in matching(groups, m)) else None


def _happens(line: Line, motion: Motion, m: Mention, *, exact: bool, stripping: bool) -> bool:
    """Whether a mention moves in a line whose acts do not call it work: only by plain words."""
    sure = m.said and m.size is not None and (m.count or 0) > 1  # "and that's five eight mil bolts back"
    if (
        line.does("hypothesis", "concern")
        or (line.does("confirmed") and not sure)
        or _is_unreal(line, motion, m)
    ):
        return False
    off, on = motion.weigh(m.start, m.end)
    if (off >= CLEAR or on >= _CERTAIN) and (m.said or m.bare or m.size is not None):
        return True
    if line.does("plan", "caution"):
        return (
            m.said and (m.size is not None or (m.count or 0) > 1) and motion.says_off() and on <= off + _MAY
        )
    if line.does("part"):
        return False
    exact = exact and (not m.bare or max(off, on) >= _MAY)  # "both of them fall to zero"
    looked = line.does("test") or (stripping and line.does("observation", "result"))
    moving = off > 0 or not m.definite
    return exact or (looked and m.said and not m.bare and moving and on <= max(off, _MAY))


def _has_done(motion: Motion, m: Mention) -> bool:
    """*I've only hung it with two*: done already, whatever is planned beside it."""
    low = motion.line.since_break(m.start, CLAUSE)
    done = [i for i in range(low, m.start) if motion.words[i] in ("i've", "we've")]
    return bool(done) and any(done[-1] < e.start < m.start and e.weight > 0 for e in motion.evidence)


def _is_unreal(line: Line, motion: Motion, m: Mention) -> bool:
    """*If one of those bolts is stripped*, *we need four clips*, *four nuts at two pounds*."""
    low = motion.line.since_break(m.start, CLAUSE)
    if not _W["never.unreal"].isdisjoint(motion.words[low : m.start]) or is_priced(motion):
        return True
    if motion.word(m.end) in _W["never.left"]:
        return True
    verb = motion.word(m.end) in ("is", "are", "'s", "was", "were")
    return verb and not _W["never.states"].isdisjoint(motion.words[m.end + 1 : m.end + 4])


def _way_bare(m: Mention, off: float, on: float, held: list[Group]) -> Way:
    if m.new:  # "one more out of the jar"
        return "installed"
    if m.count == 1 and max(off, on) < _MAY:
        return None
    if off == on and any(near(g, m.place) and g.off == m.count for g in held):
        return "installed"  # "wheel, four, 115"
    if on > off:
        enough = m.every or m.pronoun or 2 * sum(g.off for g in held) >= (m.count or 0)
        return "installed" if held and enough else None
    return "removed" if off > on else None


def _prior(m: Mention, held: list[Group], stripping: bool) -> float:
    """What the ledger speaks for: what is off goes on, what is not off comes off."""
    if not held:
        return _NONE_OFF
    if m.count is None:
        return _MAY
    best = max(held, key=lambda g: rank(g, m))
    if not m.bare and best.kind != m.kind:
        return _ALIKE
    if best.off == m.count:
        return _FITS
    if sum(g.off for g in held) == m.count or best.off > m.count:
        return (-0.2 if stripping else 0.3) if elsewhere(best, m.place) else _MAY
    return -0.2
