"""What goes back where a line names the part, a number, or only points: the groups that fit it best.

*Panel on, all but one*, *those three go back*, *hatch closed, those at twelve*: every group that is off is
held against the parts named, the number, and what came off last.
"""

from __future__ import annotations

from dataclasses import dataclass

from narrator.job.chains import covers
from narrator.job.groups import Group, belongs
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.mention import Mention
from narrator.job.motion import Motion
from narrator.job.renewed import new_ones
from narrator.job.trouble import is_in_trouble
from narrator.values import Entity, Fastener, Measurement

_W = ledger_words()
_OF_PLACE = 0.3
"""What a part counts that is only named as a place."""
_ITS = 0.55
"""From which share on a group is one of the parts named."""
_ENOUGH = 1.0
_FIT, _STEP, _FEWER, _TOO_FEW, _MANY = 1.5, 1.2, -0.9, -2.5, 0.2
"""For as many as said, as came off at a time, for fewer, for fewer by what is no mention, and for more."""
_LAST, _POINTED, _PART, _TOGETHER = 0.4, 0.8, 2.0, 0.2
"""For what was touched last, what is pointed at, the part named, and all that the parts named hold."""
_MORE = 2
"""So many more than came off may go on: what was missing before."""
_FEW = 4
"""More than so many are not excepted: *bar the odd ten* is a size."""
_ONE_OF = frozenset(("", "i", "i've", "we", "we've", "that", "that's", "for", "left"))
"""What may follow *with the one* that is left."""
_WITH = frozenset(("with", "just", "only"))
_SURE, _FAINT = 0.6, 0.25
"""What the network's three surest words must come to; and below which nothing moves."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """How many a line says: ``count`` None for all, ``new`` ones beside, ``less`` so many of them not."""

    count: int | None
    new: int
    less: int
    rest: bool
    points: bool


def goes_back(line: Line) -> bool:
    """Whether the network is sure that the line puts fasteners back."""
    off, on = line.surely()
    return on >= _SURE and on > off


def is_silent(line: Line) -> bool:
    """Whether the network is sure that no fastener of the line moves; not where it was not asked."""
    return bool(line.understood.moves) and max(line.surely()) < _FAINT


def wanted(line: Line, motion: Motion, told: Mention | None = None) -> Wanted:
    """How many a line puts back that names no fasteners; ``told`` is a count or pronoun that says so."""
    words = line.tokens
    less = next((n for i in range(len(words)) if (n := _excepted(words, i))), 0)
    found = [i for i, word in enumerate(words) if word in _W["refit.rest"]]
    rest = any(
        motion.word(i + 1) not in _W["refit.later"] for i in found
    )  # not "four for now, rest when ..."
    every = not _W["refit.every"].isdisjoint(words)
    points = not _W["refit.points"].isdisjoint(words)
    if told is not None and told.count is not None:
        new = new_ones(motion, told.end, len(words))
        return Wanted(None if told.every or rest else told.count, new, less, rest, points)
    counts = _counts(line, motion, less)
    new = new_ones(motion, 0, len(words)) if counts else 0
    if counts == [new]:
        new = 0  # "pedestals down with eight new ones"
    elif new > 1 and new in counts:
        counts.remove(new)
    total = sum(counts)
    if counts and 2 * max(counts) == total and len(counts) > 2:
        total = max(counts)  # "six of them, three and three"
    return Wanted(None if rest or (every and less) or not counts else total, new, less, rest, points)


def _counts(line: Line, motion: Motion, less: int) -> list[int]:
    """The numbers of a line that may be of fasteners, one and what is excepted aside."""
    entities: list[Entity] = [e for e in line.understood.entities if not _is_bare_number(e)]
    found: list[int] = []
    for i, word in enumerate(line.tokens):
        value = number(word)
        if value is None or (value == 1 and not _is_the_one(motion, i)) or covers(entities, i):
            continue
        excepted = less and not _W["refit.except"].isdisjoint(line.tokens[max(0, i - 3) : i])
        if not excepted and not is_in_trouble(motion, i + 1) and motion.before(i) not in _W["refit.settings"]:
            found.append(value)
    return found


def _is_the_one(motion: Motion, i: int) -> bool:
    """*Cover back on with the one i've got*, *with just the one*: no more than that."""
    lead = motion.words[max(0, i - 3) : i]
    only = lead[-1:] in (("the",), ("just",), ("only",)) and not _WITH.isdisjoint(lead[-2:-1])
    after = motion.after(i)
    return only and after in _ONE_OF and i + 1 not in motion.nouns


def _is_bare_number(entity: Entity) -> bool:
    """Whether an entity is a number with no noun of its own: *all three*, a guessed measurement."""
    if isinstance(entity, Measurement):
        return not entity.unit_said and entity.at[1] - entity.at[0] == 1
    return isinstance(entity, Fastener) and entity.rule == "size.all"


def _excepted(words: tuple[str, ...], i: int) -> int:
    """*But one*, *save that one clip*, *bar the two at the back*: how many the word at ``i`` excepts."""
    if words[i] not in _W["refit.except"]:
        return 0
    every = not _W["refit.every"].isdisjoint(words[:i])
    for word in words[i + 1 : i + (4 if every else 2)]:
        if (value := number(word)) is not None:
            return value if value <= _FEW else 0
    return 0


def refits(
    line: Line, motion: Motion, off: list[Group], told: Mention | None = None
) -> list[tuple[Group, int]]:
    """The groups that go back, of those ``off``, and how many of each."""
    if not off:
        return []
    want = wanted(line, motion, told)
    share = {id(g): _share(g, line) for g in off}

    def score(chosen: list[Group]) -> tuple[float, int]:
        """How well some groups fit, and when the last of them was touched."""
        touched = max(g.touched for g in chosen)
        ours = _PART * min(share[id(g)] for g in chosen) + _TOGETHER * (
            len(chosen) > 1 and chosen == of_parts
        )
        return ours + _fit(chosen, want, told) + _LAST * (touched >= last), touched

    last = max(g.touched for g in off)
    of_parts = [g for g in off if share[id(g)] >= _ITS]
    best = max(_sets(off, of_parts), key=score)
    near = max(g.touched for g in best) >= last or min(share[id(g)] for g in best) > 0 or best == of_parts
    more = told and sum(g.off for g in best) + _MORE >= (want.count or 0)  # "six out ... cover on with seven"
    enough = score(best)[0] >= _ENOUGH or (more and near)
    return _told(best, want) if enough else []


def _sets(off: list[Group], of_parts: list[Group]) -> list[list[Group]]:
    """What may go back at once: each group, those of the parts named, of the last round, the last moment."""
    latest = [g for g in off if g.round == max(h.round for h in off)]
    at_once = [g for g in off if g.touched == max(h.touched for h in off)]
    sets = [of_parts, latest, at_once if len(at_once) < len(latest) else []]
    return [*([g] for g in off), *(some for some in sets if len(some) > 1)]


def _fit(chosen: list[Group], want: Wanted, told: Mention | None) -> float:
    """How well the number off in some groups, and what was last done to them, fit what is said."""
    total = sum(g.off for g in chosen)
    if want.count is not None:
        too_few = _FEWER if told else _TOO_FEW
        if len(chosen) == 1 and want.count < total and want.count in chosen[0].steps:
            return _STEP
        return _FIT if total == want.count else too_few if total < want.count else _MANY
    if want.rest:
        return _FIT * any(g.installed for g in chosen)
    return _POINTED * want.points


def _told(chosen: list[Group], want: Wanted) -> list[tuple[Group, int]]:
    """How many of each go back."""
    total = sum(g.off for g in chosen)
    left = total - want.less if want.count is None else want.count
    left += want.new if left <= total else 0  # "all twelve in, two new from the bin"
    found: list[tuple[Group, int]] = []
    for g in chosen:
        part = min(g.off, left) if g is not chosen[-1] else left
        if part > 0:
            found.append((g, part))
        left -= part
    return found


def _share(group: Group, line: Line) -> float:
    """How far a group belongs to a part of the line, 0 to 1."""
    return max(
        (belongs(group, c.name) * (_OF_PLACE if line.is_place(c) else 1.0) for c in line.components),
        default=0.0,
    )
