"""The ledger's totals, settled at the end by what comes out even: what was heard may be a mishearing.

For each kind and size the totals heard stand beside a few others: as many back as came off, as many off as
went back, without one of the events, none at all, as many as were ever counted. A model says which are
likeliest (boosted trees, models/fasteners/card.md), by how sure the network is of each event, what lines
nobody understood, and words that tell why some are fewer or more. Nothing is settled before the repair was
checked, what was settled otherwise than heard asks for a look, and what was not heard to go back stays an
open item all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np

from narrator.job.balance_features import Change, Event, Heard, Noted, Told, features
from narrator.job.balance_mentions import Key, Weighed, key_of, mentioned
from narrator.job.fasteners import FastenerLedger
from narrator.job.groups import Group
from narrator.job.line import Line
from narrator.job.record import FastenerRow, LookRow
from narrator.job.trees import Trees
from narrator.paths import MODELS

FOLDER = MODELS / "fasteners"
_MARGIN = 0.08
"""So much likelier than what was heard other totals must be."""
_DOUBTED = 0.5
"""How sure the network must be that fasteners come off in a line, for these to be off still."""
_MOST = 8
"""So many events of a kind and size are doubted one by one."""


@dataclass(slots=True)
class Totals:
    """One outcome for a kind and size; ``row`` is what the model looks at."""

    removed: int
    installed: int
    without: Event | None = None
    """The event that is taken for none."""
    row: list[float] = field(default_factory=list)


def balanced(ledger: FastenerLedger, lines: Sequence[Line]) -> tuple[list[FastenerRow], list[LookRow]]:
    """The ledger's rows, their totals as the model settles them, and a look at each that was heard otherwise.

    All as heard where no model is installed.
    """
    rows, model, looks = ledger.rows(), _model(), list[LookRow]()
    if model is None or not rows or not is_done(ledger, lines):
        return rows, looks
    cases = list(outcomes(ledger, lines))
    shares = 1 / (1 + np.exp(-model.odds(np.array([t.row for _, found in cases for t in found]))))
    start = 0
    for key, found in cases:
        own = shares[start : start + len(found)].copy()
        start += len(found)
        own[0] += _MARGIN
        best = int(own.argmax())
        if best:
            some = [row for row in rows if key_of(row.kind, row.size) == key]
            looks.append(_look(some, found[0], found[best]))
            _spread(some, found[best])
    return [row for row in rows if row.removed or row.installed], looks


def _look(rows: Sequence[FastenerRow], heard: Totals, taken: Totals) -> LookRow:
    """What was heard of a kind and size, and what is taken instead, at the last line that spoke of them."""
    size = f"{rows[0].size.value:g} {rows[0].size.unit} " if rows[0].size else ""
    reason = (
        f"{size}{rows[0].kind}: {heard.removed} off and {heard.installed} on were heard, "
        f"{taken.removed} off and {taken.installed} on are likelier"
    )
    return LookRow(kind="evened", reason=reason, utterance=max(u for row in rows for u in row.utterances))


def is_done(ledger: FastenerLedger, lines: Sequence[Line]) -> bool:
    """Whether the repair was checked after anything surely came off last: before that it may just be off."""
    off = {e.line for e in ledger.events if e.change == "removed"}
    last = max((line.id for line in lines if line.id in off and not _is_doubted(line)), default=0)
    return any(line.id > last and line.does("verification") for line in lines)


def _is_doubted(line: Line) -> bool:
    """Whether the network hardly believes that anything comes off in a line; not where it was not asked."""
    return bool(line.understood.moves) and line.surely()[0] < _DOUBTED


def outcomes(ledger: FastenerLedger, lines: Sequence[Line]) -> Iterator[tuple[Key, list[Totals]]]:
    """What the totals of each kind and size may be, those heard first."""
    heard = _heard(ledger)
    told, named = Told(heard, lines), mentioned(lines, {one.key for one in heard})
    for one in heard:
        found, weighed = list(_totals(one)), Weighed(named.get(one.key, ()))
        of_key = [*features(one, told), *weighed.features()]
        for totals in found:
            line = totals.without.line if totals.without else None
            of_mentions = weighed.of_totals(totals.removed, totals.installed, line)
            totals.row = [*of_key, *_of_totals(one, totals, told.notes), *of_mentions]
        yield one.key, found


def _heard(ledger: FastenerLedger) -> list[Heard]:
    """The groups and events of each kind and size, in the order of first mention."""
    found: dict[Key, Heard] = {}
    of_group: dict[int, Heard] = {}
    for group in (g for g in ledger.groups if g.removed or g.installed):
        key = key_of(group.kind, group.size)
        one = of_group[id(group)] = found.setdefault(key, Heard(key))
        one.groups.append(group)
    for event in ledger.events:
        if id(event.group) in of_group:
            of_group[id(event.group)].add(Event(event.change, event.count, event.line))
    for one in found.values():
        for implied in (e for g in one.groups for e in _implied(g)):
            one.add(implied)
    return list(found.values())


def _implied(group: Group) -> Iterator[Event]:
    """What nobody said in so many words: the rest came off, or went back with the part it holds."""
    left = 0 if group.installed and not group.off else group.left
    if left:
        yield Event("removed", left, group.utterances[-1])
    if group.pending and group.off > 0:
        yield Event("installed", group.off + left - group.spared, group.pending)


def _totals(one: Heard) -> Iterator[Totals]:
    """The totals heard, and what they may be instead; none twice."""
    off, on = one.removed, one.installed
    counted = max(g.known for g in one.groups)
    made = [Totals(off, on), Totals(off, off), Totals(on, on), Totals(0, 0)]
    for event in one.events[:_MOST]:
        some, other = off - event.off, on - event.on
        made += [Totals(some, other, event), Totals(some, some, event), Totals(other, other, event)]
    made += [Totals(counted, counted), Totals(counted, counted - 1)]
    seen: set[tuple[int, int]] = set()
    for totals in made:
        pair = totals.removed, totals.installed
        if pair not in seen and min(pair) >= 0:
            seen.add(pair)
            yield totals


def _of_totals(one: Heard, totals: Totals, notes: dict[int, Noted]) -> list[float]:
    """What tells one outcome from another."""
    event, (off, on) = totals.without, (totals.removed, totals.installed)
    out = [
        float(off), float(on), float(off - on), float(off == on),
        float(off - one.removed), float(on - one.installed), float(off == on == 0),
    ]  # fmt: skip
    if event is None:
        return [*out, 1.0, 0.0, 0.0, -1.0]
    return [
        *out,
        event.sure(notes),
        event.against(notes),
        event.counted(notes),
        float(event.change == "removed"),
    ]


def _spread(rows: list[FastenerRow], totals: Totals) -> None:
    """Give rows of one kind and size these totals between them."""
    for name, wanted in (("removed", totals.removed), ("installed", totals.installed)):
        change: Change = "removed" if name == "removed" else "installed"
        more = wanted - sum(getattr(row, name) for row in rows)
        while more:
            step = 1 if more > 0 else -1
            row = max(rows, key=lambda r: _fits(r, change, step))
            setattr(row, name, getattr(row, name) + step)
            more -= step


def _fits(row: FastenerRow, change: Change, step: int) -> tuple[bool, int]:
    """How well a row takes one more, or gives one up: those that are not even come first."""
    own, other = (row.removed, row.installed) if change == "removed" else (row.installed, row.removed)
    return (own + step >= 0, step * (other - own))


@lru_cache(maxsize=1)
def _model(folder: Path = FOLDER) -> Trees | None:
    """The trees as trained, or None where they were not installed."""
    path = folder / "balance.npz"
    return Trees(path) if path.is_file() else None
