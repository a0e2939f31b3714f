"""The strips: what is wrong in them is said."""

from __future__ import annotations

from models.understanding.corpus import strips
from models.understanding.narrations.markup import parse_text
from models.understanding.strips import proofread

EIGHT = "s | [two tens]{F bolt 2 10mm} off | R bolt 10mm 2\n" * 8


def test_every_strip_is_read_and_nothing_is_wrong_in_it() -> None:
    found = list(strips())
    assert len({talk.name for talk in found}) == len(found) > 100
    assert not [(talk.name, one) for talk in found for one in proofread.wrong(list(talk.lines))]


def test_totals_are_by_kind_and_size() -> None:
    lines = parse_text(EIGHT + "s | back on | I bolt 10mm 15")
    assert proofread.totals(lines) == {"bolt 10mm": [16, 15]}


def test_what_is_wrong_is_said() -> None:
    assert list(proofread.wrong(parse_text("s | off"))) == ["1 lines"]
    marked = list(proofread.wrong(parse_text(EIGHT + "s | the [pump]{C} off")))
    assert marked == ["line 9: only F, M and S are marked here, not C"]
    aside = list(proofread.wrong(parse_text(EIGHT + "a | two off | R bolt 10mm 2")))
    assert aside == ["line 9: an aside that moves fasteners"]
    banned = list(proofread.wrong(parse_text(EIGHT + "s | then the gear shift")))
    assert banned == ["off limits: gear shift"]
