"""Fasteners that the network tells from the words around them, where the rules saw none or half of one.

For each word the network says whether it tells how many fasteners there are, how large they are, or what they
are (``narrator.language.act_network.ROLES``), and of which kind. Where that is sure, a run of such words is
entered as fasteners (*four pozzies*, *three more of the same t twenty fives*), or completes what a rule
found (*three more thirteens*). The numbers themselves are read by the usual grammar.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from narrator.convolution import Vectors
from narrator.language.act_network import KINDS, ROLES, Told
from narrator.language.bare import SCREWED_IN
from narrator.language.fastenernames import COUNTS
from narrator.language.fastenernames import KINDS as NOUNS
from narrator.language.figures import figures_of, is_share
from narrator.language.meaning import has_amounts, meaning_table, told_of
from narrator.language.sized import size_spans
from narrator.language.sizes import PLURALS, TORX, is_screw
from narrator.language.tables import used
from narrator.language.tokens import Notes
from narrator.values import Component, Entity, Fastener, Material, Measurement, Size

RULE = "network.fastener"
_T = meaning_table()["fasteners"]
_SURE, _PART, _COUNTED = float(_T["sure"]), float(_T["part"]), float(_T["counted"])
_SURELY = float(_T["surely"])
_ALONE, _AGAINST = float(_T["kind"]), float(_T["against"])
_BARE = ("bolt", "nut", "screw")
NAMED: dict[str, str] = _T["named"]
_COUNT, _SIZE, _NAME = (ROLES.index(role) for role in ("count", "size", "name"))
_BETWEEN = frozenset(str(_T["between"]).split())
_IS = frozenset(("is", "'s", "are", "they're", "'re", "all", "both"))
_NEAR, _FAR = 4, 10
_TORX = frozenset(("t", "torx", "tx"))
_GROUPS = {"both": 2, "pair": 2, "couple": 2, "dozen": 12} | COUNTS
_MOST = 60


@dataclass(slots=True)
class Run:
    """Words in a row that tell of the same fasteners: tokens ``start`` to ``end``."""

    start: int
    end: int
    count: int | None = None
    size: Size | None = None
    kind: str | None = None
    """As named; None where the words only tell number and size."""
    plural: bool = False
    part: str = ""
    """The noun, where it may name a part as well."""


def complete(notes: Notes, names: Collection[str]) -> None:
    """Enter and complete fasteners of one utterance; does nothing without a network.

    ``names`` of parts that the session has told: *the pin* of a job about a slide pin is that part.
    """
    if not has_amounts(notes) and not names_some(notes.words):
        return
    told = told_of(notes)
    if told is None:
        return
    _join(notes, told)
    for run in runs(notes, told):
        over = [e for e in notes.entities if isinstance(e, Fastener) and _meet(e, run)]
        if not over and not _is_part(told, run, names) and not _is_used(notes, run):
            _enter(notes, told, run)
        elif len(over) == 1:
            _mend(notes, over[0], run)
    _join(notes, told)


def _is_used(notes: Notes, run: Run) -> bool:
    """Whether a rule has read the words as the count and size of what is named further on.

    With a word of the part that they hold it is the same: *four 12 mil gearbox* of *... gearbox bolts*.
    """
    own = range(run.start, run.end)
    return used(notes).issuperset(own) or (run.kind is None and not used(notes).isdisjoint(own))


def _is_part(told: Told, run: Run, names: Collection[str]) -> bool:
    """Whether a noun stands for a part that the session named: *the pin* of a job about a slide pin.

    Not where it is counted and the network has no doubt of it.
    """
    named = any(name != run.part and name.split()[-1] == run.part for name in names if run.part)
    return named and (run.count is None or max(told.telling[run.start : run.end]) < _SURELY)


def names_some(words: Iterable[str]) -> bool:
    """Whether some words may name fasteners."""
    return not NAMED.keys().isdisjoint(words)


def runs(notes: Notes, told: Told) -> Iterator[Run]:
    """The runs of words that are likely of fasteners, each with what its words say."""
    share, role = told.telling[: len(notes.words)], told.role
    if max(share, default=0.0) < _SURE:
        return
    start = 0
    while start < len(share):
        if share[start] < _PART:
            start += 1
            continue
        end = start + 1
        while end < len(share) and share[end] >= _PART and end not in notes.marks:
            if role[end] == _COUNT and any(r in (_SIZE, _NAME) for r in role[start:end]):
                break  # "four tens and two eights" without the and
            end += 1
        if max(share[start:end]) >= _SURE:
            yield _read(notes, told, role, start, end)
        start = end


def _read(notes: Notes, told: Told, role: list[int], start: int, end: int) -> Run:
    run = Run(start, end)
    for figure in (f for f in figures_of(notes).all if start <= f.start and f.end <= end):
        counts = float(_mean(told.roles[figure.start : figure.end])[_COUNT]) >= _COUNTED
        if counts and run.count is None and figure.form in ("whole", "group") and 1 <= figure.value <= _MOST:
            run.count = int(figure.value)
    for first, last, size in size_spans(notes):
        if start <= first and last <= end and run.size is None and role[first] != _COUNT:
            run.size = _sized(notes, first, size)
    for i in range(start, end):
        word = notes.words[i]
        if run.count is None and role[i] == _COUNT and word in _GROUPS:
            run.count = _GROUPS[word]
        run.plural |= word in PLURALS and role[i] == _SIZE
        if role[i] == _NAME and (noun := _noun(notes, i)):
            run.kind, run.plural = noun, run.plural or word.endswith("s")
            run.part = word.removesuffix("s") if word in NAMED else ""
    return run


def _mean(words: Vectors) -> Vectors:
    """The mean of some rows: ``numpy.mean`` takes three times as long for so few."""
    mean: Vectors = words[0] if len(words) == 1 else np.add.reduce(words) / len(words)
    return mean


def _sized(notes: Notes, first: int, size: Size) -> Size | None:
    """The size that a number is; of a Torx head where the drive is said before it."""
    if first == 0 or notes.words[first - 1] not in _TORX:
        return size
    return Size(size.value, "T") if size.value in TORX else None


def _noun(notes: Notes, i: int) -> str | None:
    hit = NOUNS.at(notes.words, i)
    return hit[1][0] if hit else NAMED.get(notes.words[i])


def _meet(entity: Entity, run: Run) -> bool:
    return entity.at[0] < run.end and run.start < entity.at[1]


def kind_told(told: Told, start: int, end: int) -> tuple[str, float]:
    """The likeliest kind of the fasteners that some words are of, and how likely it is."""
    shares = _mean(told.kinds[start:end])
    best = int(shares.argmax())
    return KINDS[best], float(shares[best])


def sure_kind(notes: Notes, entity: Fastener, known: str | None) -> str | None:
    """The kind of a bare size where the network is sure of it, the surer if the session named another."""
    told = told_of(notes)
    if told is None:
        return None
    kind, share = kind_told(told, *entity.at)
    return kind if kind in _BARE and share >= (_AGAINST if known else _ALONE) else None


def _enter(notes: Notes, told: Told, run: Run) -> None:
    """Fasteners that no rule saw: named, or of a size that was told."""
    if run.kind is None and (run.size is None or _is_own_hex(notes, run.end)):
        return
    kind = run.kind or kind_told(told, run.start, run.end)[0]
    if kind == "other" or (run.kind is None and _is_share(notes, run)):
        return
    if run.kind is None and is_screw(run.size):
        kind = "screw"
    over = [e for e in notes.entities if _meet(e, run)]
    if any(not isinstance(e, (Component, Material, Measurement)) for e in over):
        return
    if run.kind is None and any(_is_told_again(e, run) for e in notes.entities if isinstance(e, Fastener)):
        return
    if run.kind is None and (named := _named_before(notes, run.start, run.count, kind)):
        _put(notes, named, replace(named, size=run.size, **_count_of(named, run.count)))
        return
    notes.entities[:] = [e for e in notes.entities if e not in over]
    several = run.plural or (run.count or 0) > 1
    notes.entities.append(
        Fastener(
            span=notes.span(run.start, run.end), at=(run.start, run.end), rule=RULE, kind=kind,
            count=run.count if run.count or several else 1, size=run.size,
            drive="torx" if run.size and run.size.unit == "T" else None,
            count_said=run.count is not None, kind_said=run.kind is not None,
        )
    )  # fmt: skip


def _is_own_hex(notes: Notes, end: int) -> bool:
    """*A thirty six mil plug*: the hex of a part that screws in itself."""
    return end < len(notes.words) and end not in notes.marks and notes.words[end] in SCREWED_IN | {"cap"}


def _is_share(notes: Notes, run: Run) -> bool:
    """*Five of the six*, *seven of its eight*: how many of how many, no size."""
    figures = [f for f in figures_of(notes).all if run.start <= f.start and f.end <= run.end]
    return any(is_share(notes, f) for f in figures)


def _join(notes: Notes, told: Told) -> None:
    """*The castle nut off a seventeen*: a bare size said right after a name is what that is."""
    if Fastener not in map(type, notes.entities):
        return
    for bare in [e for e in notes.entities if isinstance(e, Fastener) and not e.kind_said and e.size]:
        count = bare.count if bare.count_said else None
        named = _named_before(notes, bare.at[0], count, kind_told(told, *bare.at)[0])
        if named is not None:
            notes.entities.remove(bare)
            _put(notes, named, replace(named, size=bare.size, **_count_of(named, count)))


def _named_before(notes: Notes, start: int, count: int | None, kind: str) -> Fastener | None:
    """The fasteners named without a size a few words before token ``start``, if its size may be theirs."""
    named = [e for e in notes.entities if isinstance(e, Fastener) and e.at[1] <= start]
    last = max(named, key=lambda e: e.at, default=None)
    if last is None or last.size is not None or not last.kind_said:
        return None
    between = notes.words[last.at[1] : start]
    one = count in (None, 1) and last.count in (None, 1)
    alike = count is not None and last.count in (None, count) and not _BETWEEN.isdisjoint(between)
    near = len(between) <= _NEAR and _BETWEEN.issuperset(between)
    several = not _IS.isdisjoint(between) and last.count != 1  # "both unions, they're nineteens"
    if last.kind != kind:
        return last if near and count is None and several else None
    return last if near and (one or alike or (count is None and (several or not between))) else None


def _is_told_again(entity: Fastener, run: Run) -> bool:
    """Whether a bare size is what a rule gave to those named just before (*the nut off, a seventeen*)."""
    same = entity.size == run.size and run.count in (None, 1, entity.count)
    return same and 0 <= run.start - entity.at[1] <= _FAR


def _count_of(named: Fastener, count: int | None) -> dict[str, Any]:
    return {"count": count, "count_said": True} if count and not named.count_said else {}


def _put(notes: Notes, old: Fastener, new: Fastener) -> None:
    notes.entities[:] = [new if e is old else e for e in notes.entities]


def _mend(notes: Notes, entity: Fastener, run: Run) -> None:
    """What a rule found gets the number or the size that the words around it tell."""
    count, size = entity.count, entity.size
    counted = entity.count_said and count is not None
    its_size = size is not None and run.count == size.value and count in (None, 1)  # "terminal off, 10 nut"
    if not counted and run.count is not None and run.count != count and not its_size:
        count, counted = run.count, True
    if size is None and run.size is not None:
        counts = counted and run.count is None and count == run.size.value  # "the ten wheel nuts"
        size = None if counts else run.size
    if (count, size) == (entity.count, entity.size):
        return
    at = min(entity.at[0], run.start), max(entity.at[1], run.end)
    if any(e is not entity and _meet(e, Run(*at)) and isinstance(e, Fastener) for e in notes.entities):
        return
    mended = replace(entity, at=at, span=notes.span(*at), count=count, size=size, count_said=counted)
    notes.entities[:] = [
        mended if e is entity else e
        for e in notes.entities
        if e is entity or not (isinstance(e, Measurement) and _meet(e, Run(*at)))
    ]
