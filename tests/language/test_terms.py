from hypothesis import given
from hypothesis import strategies as st

from narrator.language import vocabulary as voc
from narrator.language.terms import find_terms
from narrator.language.tokens import split_words

KNOWN = voc.build()


def found(text: str) -> list[tuple[str, str]]:
    notes = split_words(text)
    terms = find_terms(KNOWN, KNOWN.units(notes.words), notes.marks)
    return [(t.kind, " ".join(notes.words[slice(*t.at)])) for t in terms]


def test_the_longest_phrase_wins() -> None:
    assert ("component", "fuel pump relay") in found("the fuel pump relay clicks")
    assert ("component", "fuel pump") not in found("the fuel pump relay clicks")


def test_things_and_deeds_are_found_apart() -> None:
    both = found("drain the coolant the drain plug is stuck fast")
    assert ("action", "drain") in both
    assert ("component", "drain plug") in both
    assert ("fault", "stuck fast") in both


def test_no_phrase_reaches_across_a_mark() -> None:
    assert ("component", "fuel pump") not in found("no fuel. Pump is quiet")


def test_all_forms_of_a_deed_are_found() -> None:
    for text in ("i removed it", "removing it", "he removes it"):
        assert found(text)[0][0] == "action"


@given(st.text())
def test_any_text(text: str) -> None:
    notes = split_words(text)
    units = KNOWN.units(notes.words)
    assert [*units.starts[1:]] == [*units.ends[:-1]]
    for term in find_terms(KNOWN, units, notes.marks):
        assert 0 <= term.at[0] < term.at[1] <= len(notes.words)
