"""Values that the speaker takes back: *four no three ten mil bolts* is three bolts.

The value taken back, a unit said with it and the words of taking back are dropped (recorded in
``notes.scratch["dropped"]`` as token ranges); only the corrected value goes on.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from narrator.language.fastenernames import ADJECTIVES, DRIVES, KINDS, TORX_CODE
from narrator.language.sizes import PLURALS
from narrator.language.tables import fired, load
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.phrases import Phrases

if TYPE_CHECKING:
    from narrator.language.figures import Figure

_RULES = load("numbers")["corrections"]
CORRECTIONS = Phrases((phrase, row["id"]) for row in _RULES for phrase in row["phrases"])
FILLERS = frozenset(load("numbers")["fillers"][0]["words"])
LABELS = frozenset(next(row["words"] for row in load("numbers")["lists"] if row["id"] == "number.label"))
_IT_IS = frozenset("it's that's it is 's its that they they're are 're".split())
BOUNDS = frozenset(".?!")
_STARTS = frozenset(CORRECTIONS.starts)
_ENTRY = _STARTS | FILLERS


def _past_fillers(notes: Notes, i: int) -> int:
    while i < len(notes.words) and notes.words[i] in FILLERS:
        i += 1
    return i


def _after_cue(notes: Notes, i: int) -> tuple[int, str] | None:
    """Where a correcting phrase that starts at ``i`` (fillers aside) ends, and its rule."""
    words = notes.words
    i = _past_fillers(notes, i)
    hit = CORRECTIONS.at(words, i)
    if hit is None:
        return None
    end, rule = hit
    while True:  # "no wait it's", "no sorry"
        end = _past_fillers(notes, end)
        again = CORRECTIONS.at(words, end)
        if again is None:
            break
        end = again[0]
    while end < len(words) - 1 and words[end] in _IT_IS:
        end += 1
    return end, rule


def _row_end(figures: Sequence[Figure], n: int) -> int:
    """The index after the last of the figures that touch figure ``n``."""
    n += 1
    while n < len(figures) and figures[n].start == figures[n - 1].end:
        n += 1
    return n


def _taken_back(notes: Notes, figure: Figure, rest: Sequence[Figure]) -> tuple[int, int, str] | None:
    """If ``figure`` is taken back for ``rest``: where its unit and noun end, where the cue does, the rule."""
    words = notes.words
    if not rest or (figure.start and words[figure.start - 1] in LABELS):
        return None
    unit = unit_at(words, figure.end, clinging=figure.written, part=figure.value < 1)
    end = unit.end if unit else figure.end
    noun = _noun_end(words, end) > end
    end = _noun_end(words, end)
    cue = _after_cue(notes, end) if end < len(words) and words[end] in _ENTRY else None
    if cue is None or cue[0] != rest[0].start:
        return None
    following = rest[_row_end(rest, 0) - 1]
    if any(notes.marks.get(i, "") in BOUNDS for i in range(figure.end, end + 1) if i in notes.marks):
        return None
    after = unit_at(words, following.end, clinging=following.written, part=following.value < 1)
    named = after.end if after and noun else following.end
    counts = _noun_end(words, named) > named
    if unit and ((after and unit.unit.quantity != after.unit.quantity) or (not after and counts)):
        return None
    several = _row_end(rest, 0) > 1 and following.value > 1  # "two eights no one eight and one ten"
    anew = several and figure.start > 0 and not counts
    stays = not anew and ((noun and not counts) or (unit is not None and not noun and after is None))
    return (figure.end if stays else end), cue[0], cue[1]


def drop_corrected(notes: Notes, figures: list[Figure]) -> list[Figure]:
    """The figures that stand; tokens taken back are recorded as dropped.

    Where the unit or noun was said only with the first value (*thirty foot pounds no forty*), the corrected
    value takes the place of the first.
    """
    if _STARTS.isdisjoint(notes.words) or len(figures) < 2:
        return figures
    kept: list[Figure] = []
    dropped: list[tuple[int, int]] = notes.scratch.setdefault("dropped", [])  # type: ignore[assignment]
    queue = list(figures)
    while queue:
        end = _row_end(queue, 0)
        row, rest = queue[:end], queue[end:]
        found = _taken_back(notes, row[-1], rest)
        if found is None:
            kept += row
            queue = rest
            continue
        said, cue, rule = found
        fired(notes, rule)
        size = min(len(row), _row_end(rest, 0))
        first = row[-size]
        if _is_count_of_sized(notes, kept, row, rest[0]) and said == row[-1].end:
            dropped.append(
                (said + _own(notes, said), rest[0].end)
            )  # "nine t thirty screws, wait, eight of them"
            kept[-1] = rest[0]._replace(start=kept[-1].start, end=kept[-1].end)
            queue = [*row, *rest[1:]]
            continue
        if size == 1 < len(row) and rest[0].value < 8 and said == row[-1].end and _has_own(notes, said):
            dropped.append((said + _own(notes, said), rest[0].end))  # "two ten mil bolts no three"
            queue = [rest[0]._replace(start=row[0].start, end=row[0].end), *row[1:], *rest[1:]]
            continue
        if said == row[-1].end and cue > said + 1 and _has_own(notes, said):
            stands = [f._replace(start=first.start, end=said) for f in rest[:1]]
            dropped.append((said + _own(notes, said), rest[0].end))
            queue = row[:-size] + stands + rest[1:]
            continue
        dropped.append((first.start, cue))
        if size < len(row):
            rest[0] = rest[0]._replace(start=first.start)
        queue = row[:-size] + rest
    return kept


def _is_count_of_sized(notes: Notes, kept: list[Figure], row: list[Figure], anew: Figure) -> bool:
    """Whether the new figure mends a count that a named size (*t thirty*, *m eight*) stands behind."""
    words, start = notes.words, row[0].start
    sized = len(row) == 1 and start > 0 and words[start - 1] in ("t", "torx", "tx", "m")
    counted = bool(kept) and kept[-1].end == start - 1 and _has_own(notes, row[-1].end)
    return sized and counted and words[anew.end : anew.end + 1] != [words[start - 1]]


def _own(notes: Notes, i: int) -> int:
    """How many tokens at ``i`` are a unit or a fastener's name."""
    unit = unit_at(notes.words, i, clinging=True, part=False)
    return _noun_end(notes.words, unit.end if unit else i) - i


def _noun_end(words: Sequence[str], i: int) -> int:
    """Where a fastener's name at token ``i`` ends (*tens*, *T20s*, *wing nuts*); ``i`` where none is."""
    if i >= len(words):
        return i
    if words[i] in PLURALS or TORX_CODE.fullmatch(words[i].removesuffix("s")):
        return i + 1  # "four tens no five tens" counts as well as "four bolts no five bolts"
    hit = KINDS.at(words, i) or DRIVES.at(words, i)
    if hit is None and words[i] in ADJECTIVES:
        hit = KINDS.at(words, i + 1)
    return hit[0] if hit else i


def _has_own(notes: Notes, i: int) -> bool:
    return _own(notes, i) > 0
