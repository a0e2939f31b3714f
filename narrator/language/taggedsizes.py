"""Sizes and drives that the network takes for fasteners (*bottom thirteen out*, *every thirteen*).

What the rules only hold for possible is entered where the network is sure; a standard size that no rule saw
is entered as a fastener by itself. Kinds come from the session, as for any bare size.
"""

from __future__ import annotations

from collections.abc import Iterator

from narrator.language.act_network import TAGS, Read
from narrator.language.bare import Bare
from narrator.language.barefasteners import OWN_HEX
from narrator.language.candidates import Candidate, candidates
from narrator.language.fastenernames import INCH, MM
from narrator.language.figures import figures_of
from narrator.language.meaning import meaning_table, told_of
from narrator.language.sizes import HEADS, INCH_HEADS, PLURALS
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.values import Fastener, Measurement, Size

RULE = "size.network"
_FIRST = TAGS.index("first fastener")
_T = meaning_table()["fasteners"]
_SURE, _MOVES = float(_T["sure"]), float(_T["moves"])
_LONE, _ALONE = 8, 10
"""Sizes below this are counts more often, where no count stands before them: new ones, and candidates."""


def tagged_sizes(notes: Notes, read: Read) -> None:
    """Make candidates sure, and add those that only the network sees."""
    if "figures" not in notes.scratch and PLURALS.keys().isdisjoint(notes.words):
        return
    shares = [sum(row[_FIRST : _FIRST + 2]) for row in read.tags[: len(notes.words)]]
    taken = notes.taken()
    for e in notes.entities:
        if isinstance(e, Measurement) and not e.unit_said:
            taken[slice(*e.at)] = [False] * (e.at[1] - e.at[0])
    for e in notes.entities:
        if isinstance(e, Fastener):
            taken[slice(*e.at)] = [True] * (e.at[1] - e.at[0])
    for candidate in candidates(notes) if "candidates" in notes.scratch else ():
        at = candidate.fastener.at
        made = candidate.fastener
        counted = made.count is not None and made.count_said
        if made.size is not None and (counted or made.size.value >= _ALONE):
            candidate.strong |= sum(shares[slice(*at)]) / (at[1] - at[0]) >= _SURE
        taken[slice(*at)] = [True] * (at[1] - at[0])
    for made in _sizes(notes, shares):
        if not any(taken[slice(*made.at)]):
            candidates(notes).append(Candidate(made, strong=True))


def moves(notes: Notes, at: tuple[int, int]) -> bool:
    """Whether the network, which knows the story too, takes them for fasteners that move."""
    told = told_of(notes)
    return told is not None and float(told.moves[slice(*at)].mean(axis=0).max()) >= _MOVES


def _is_other(bare: Bare, end: int) -> bool:
    """Whether what follows a number makes it a tool's or a part's size or a quantity (*ten mil socket*)."""
    if bare.word(end) in OWN_HEX and end not in bare.notes.marks:
        return True  # "a seven sixteenths fitting"
    if bare.word(end) in MM | INCH and end not in bare.notes.marks:
        return bare.is_tool(end + 1)
    return bare.is_tool(end) or unit_at(bare.words, end, clinging=True, part=False) is not None


def _sizes(notes: Notes, shares: list[float]) -> Iterator[Fastener]:
    """Standard sizes of which the network is sure, with the count before them."""
    figures = figures_of(notes)
    bare = Bare(notes, figures)
    found: list[tuple[int, int, Size]] = [
        (f.start, f.end, Size(f.value, "in" if f.form == "fraction" else "mm"))
        for f in figures.all
        if (f.whole and f.value in HEADS and f.value >= 5) or (f.form == "fraction" and f.value in INCH_HEADS)
    ]
    several = [(i, PLURALS[w]) for i, w in enumerate(notes.words) if PLURALS.get(w) in HEADS]
    found += [(i, i + 1, Size(value, "mm")) for i, value in several]
    for start, end, size in sorted(found, key=lambda f: f[0]):
        if sum(shares[start:end]) / (end - start) < _SURE or notes.words[start - 1 : start] == ["all"]:
            continue
        count, first = bare.count_before(start)
        if count is None and size.unit == "mm" and size.value < _LONE and end - start == 1:
            continue  # "all five", "the last six": mostly counts
        if _is_other(bare, end):
            continue
        plural = notes.words[end - 1].endswith("s") or (count or 0) > 1
        yield Fastener(
            span=notes.span(first, end), at=(first, end), rule=RULE, kind="bolt", size=size,
            count=count if count or plural else 1, count_said=count is not None, kind_said=False,
        )  # fmt: skip
