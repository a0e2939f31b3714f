"""Which parts spoken of before a line of work puts in, where it does not name them in full.

*New one in on the same three*, *new kit in wet with brake fluid*, *that's on with two clamps*, *in she goes*:
the part is the one told last, the one whose old one just came out, or the one whose noun is said.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.record import PartRow
from narrator.paths import GRAMMARS
from narrator.values import Component, Fastener

_SAME = 0.7
_SOON, _WITHIN = 2, 12
"""So many lines after it was told a part may be *it*, and *the new one*."""
_AHEAD = 5


@lru_cache(maxsize=1)
def _words() -> dict[str, frozenset[str]]:
    table = tomllib.loads((GRAMMARS / "deeds.toml").read_text(encoding="utf-8"))["putting_in"]
    return {name: frozenset(words.split()) for name, words in table.items()}


def put_in(line: Line, waiting: Sequence[tuple[PartRow, int]]) -> list[PartRow]:
    """Those of the parts not fitted yet, the last told at the end, that a line of work puts in.

    ``waiting``: each with how many lines ago it was told last.
    """
    if not waiting:
        return []
    found = [row for row, _ in waiting if _is_named(line, row)]
    for i in _ones(line):
        row = _old_one(line, i, waiting) or next((r for r, ago in reversed(waiting) if ago <= _WITHIN), None)
        if row is not None:
            found.append(row)
    if not found and waiting[-1][1] <= _SOON and _opens_with_it(line):
        found.append(waiting[-1][0])
    return found


def puts_in(line: Line, component: Component) -> bool:
    """Whether a line says of a part, whatever else it tells, it is in: *new cap on, eighteen dollars*."""
    words, tokens = _words(), line.tokens
    start, end = component.at
    last = min((b for b in line.breaks if b >= end), default=len(tokens))
    after = [t for t in tokens[end:last] if t not in words["has"]]
    done = bool(after) and after[0] in words["done"]
    there = bool(after) and after[0] in words["in"] and (len(after) == 1 or after[1] in words["goes_on"])
    if not (done or there):
        return False
    first = max((b for b in line.breaks if b <= start), default=0)
    if line.is_place(component) or not words["unreal"].isdisjoint(tokens[first:last]):
        return False
    return done or not words["new"].isdisjoint(tokens[max(first, start - 2) : start])


def puts_in_new(line: Line, noun: str) -> bool:
    """*Put a new cock in, six quid out of the van*: the noun of a part told before, new, and in."""
    words, tokens = _words(), line.tokens
    for i, token in enumerate(tokens[:-1]):
        ends = i + 2 == len(tokens) or i + 2 in line.breaks or tokens[i + 2] in words["goes_on"]
        new = i and tokens[i - 1] in words["new"] and words["unreal"].isdisjoint(tokens[:i])
        if token == noun and new and tokens[i + 1] in words["in"] and ends:
            return True
    return False


def is_half_of(name: str, wholes: Iterable[str]) -> bool:
    """Whether a name is a part of another's: *new pin*, where the slide pin kit goes in."""
    words = frozenset(name.split())
    return any(words < frozenset(whole.split()) for whole in wholes)


def _is_named(line: Line, row: PartRow) -> bool:
    """*New kit in*, *the plugs in by hand*, *chain new is on*: its own noun, new or with where it goes."""
    words, name = _words(), row.name.split()
    nouns = {name[-1], name[-2]} if len(name) > 1 and name[-1] in words["sets"] else {name[-1]}
    for i, token in enumerate(line.tokens):
        if token not in nouns and token.removesuffix("s") not in nouns:
            continue
        before, after = line.tokens[max(0, i - 3) : i], line.tokens[i + 1 : i + 4]
        there = 1 if after and after[0] in words["be"] and after[0] not in words["goes"] else 0
        after = after[there:]  # *pump's on*
        held = _holds_fastener(line, i) and row.name.split()[-1] not in (token, token.removesuffix("s"))
        if not words["old"].isdisjoint(before) or held:
            continue
        own = not any(c.at[0] <= i < c.at[1] and likeness(c.name, row.name) < _SAME for c in line.components)
        if not own and token == name[-1]:
            continue  # another part of which this noun is the head
        if not words["new"].isdisjoint((*before[-2:], *after[:1])):
            return True
        if token in words["sets"] and tuple(before[-2:]) == ("with", "the"):
            return True  # *rebuilt the master with the kit*
        if after and after[0] in words["goes"] and after[1:2] != ("of",) and i + 1 not in line.breaks:
            return True
    return False


def _holds_fastener(line: Line, i: int) -> bool:
    return any(f.at[0] <= i < f.at[1] for f in line.entities(Fastener))


def _ones(line: Line) -> Iterator[int]:
    """Where *new one* stands for a part: *the new one is in*, not *three old bolts and a new one*."""
    words, tokens = _words(), line.tokens
    for i in range(len(tokens) - 1):
        if tokens[i] not in words["new"] or tokens[i + 1] not in words["ones"]:
            continue
        before = tokens[i - 1] if i and i not in line.breaks else ""
        if before in words["counts"] or _holds_fastener(line, i):
            continue
        ahead = tokens[i + 2 : i + 2 + _AHEAD]
        leads = tokens[max(0, i - 3) : i]
        if not words["goes"].isdisjoint((*ahead, *leads)):
            yield i


def _old_one(line: Line, i: int, waiting: Sequence[tuple[PartRow, int]]) -> PartRow | None:
    """The part that a thing named before token ``i`` is the old one of: *old bearing out, new one in*."""
    for thing in reversed([c for c in line.components if c.at[1] <= i]):
        for row, _ in reversed(waiting):
            kind = row.name.rsplit(" ", 1)[0] if row.name.split()[-1] in _words()["sets"] else row.name
            if likeness(thing.name, kind) >= _SAME:
                return row
    return None


def _opens_with_it(line: Line) -> bool:
    """*That's on with two new clamps*, *he's in*, *and in she goes*; *got one, so that's on*."""
    words = _words()
    for i in (n for n, token in enumerate(line.tokens[:-2]) if n in line.breaks or token == "so"):
        ends = [t for t in line.tokens[i:] if t not in words["openers"] and t not in words["be"]]
        if len(ends) == 2 and ends[0] in words["it"] and ends[1] in words["in"]:
            return True
    tokens = [t for t in line.tokens[:6] if t not in words["openers"]]
    it = [t for t in tokens[:4] if t not in words["be"]]
    return len(it) > 1 and (
        (it[0] in words["it"] and it[1] in words["goes"]) or (it[0] in words["goes"] and it[1] in words["it"])
    )
