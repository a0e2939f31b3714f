"""The full-text index says what the facts say, and takes whatever a person types."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.query import fts_query
from narrator.store.rows import HIT_END, HIT_START
from narrator.values import Correction, Utterance
from tests.store.helpers import STARTED, facts_now, put, record_json


def _found(home: Path, words: str) -> list[int]:
    with Reader(home) as reader:
        return [hit.utterance for hit in reader.search(words)]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("ground", [1]),
        ("GROUND Strap", [1]),
        ("bolt", [2]),  # endings are forgiven
        ("cafe", [3]),  # accents too
        ('"ground strap"', [1]),
        ('"strap ground"', []),
        ("gro*", [1]),
        ("gro", []),
        ("ground bolts", []),
        ("the", [1, 3]),
        ("ground NOT strap", []),  # an operator is a word like any other
        ("heard:ground", []),
        ("& ground", [1]),
    ],
)
def test_words_find_lines(home: Path, words: str, expected: list[int]) -> None:
    with Writer(home) as writer:
        put(writer)
    assert _found(home, words) == expected


def test_the_hit_is_marked_and_placed(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
    with Reader(home) as reader:
        (hit,) = reader.search("strap")
    assert hit.line == f"the ground {HIT_START}strap{HIT_END} is loose"
    assert (hit.session, hit.utterance, hit.start, hit.started) == (ident, 1, 0.5, STARTED)


def test_corrections_and_clean_text_are_found_and_what_was_heard_still_is(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        writer.add_correction(ident, Correction(1, "the brown cap is loose", "Ana", STARTED))
        assert _found(home, "brown") == [1]
        assert _found(home, "strap") == [1]
        writer.add_correction(ident, Correction(1, "the round trap is loose", "Ana", STARTED))
        assert _found(home, "brown") == []
        row = {"id": 2, "clean": "Two 10 mm bolts come off."}
        writer.keep_record(ident, "t1", record_json(utterances=[row]), facts_now(home, ident))
    assert _found(home, "10 mm") == [2]
    assert _found(home, "ten mil") == [2]


def test_the_index_agrees_with_its_table(home: Path) -> None:
    with Writer(home) as writer:
        idents = [put(writer) for _ in range(3)]
        writer.add_correction(idents[0], Correction(1, "the brown cap", "Ana", STARTED))
        writer.forget(idents[1])
        with writer.transaction() as db:  # raises when an external-content index is out of step
            db.execute("INSERT INTO lines_fts(lines_fts, rank) VALUES ('integrity-check', 1)")
    assert len(_found(home, "brown")) == 1
    assert len(_found(home, "bolts")) == 2


def test_nothing_to_search_for(home: Path) -> None:
    with Writer(home) as writer:
        put(writer)
    for words in ("", "  ", '"', "***", '"" ()'):
        with Reader(home) as reader, pytest.raises(NarratorError, match="E313"):
            reader.search(words)


def test_latest_session_first_and_no_more_than_asked(home: Path) -> None:
    with Writer(home) as writer:
        old = put(writer, started="2030-01-01T00:00:00+00:00")
        new = put(writer, started="2031-01-01T00:00:00+00:00")
    with Reader(home) as reader:
        assert [hit.session for hit in reader.search("strap")] == [new, old]
        assert [hit.session for hit in reader.search("strap", most=1)] == [new]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("search")
    with Writer(home) as writer:
        put(writer)
    return home


signs = st.sampled_from(
    [*"\"'*()^:-+{}\\.,%_;\n\t\x00\x02\x03", "AND", "OR", "NOT", "NEAR", "heard", "the", " "]
)


@given(st.lists(signs | st.text(st.characters(), max_size=3), max_size=30).map("".join))
@settings(max_examples=300, deadline=None)
def test_any_search_is_answered(kept: Path, typed: str) -> None:
    with Reader(kept) as reader:
        if fts_query(typed):
            assert all(hit.utterance in {1, 2, 3} for hit in reader.search(typed))
        else:
            with pytest.raises(NarratorError, match="E313"):
                reader.search(typed)


def test_a_lone_surrogate_in_a_search_is_answered(kept: Path) -> None:
    with Reader(kept) as reader:
        assert [hit.utterance for hit in reader.search("strap \ud800")] == [1]


def test_a_very_long_search_is_answered(kept: Path) -> None:
    with Reader(kept) as reader:
        assert reader.search("strap " * 20_000)
        assert reader.search(" ".join(f"w{n}" for n in range(20_000))) == []
        assert reader.search("x" * 100_000) == []


@given(st.from_regex(r"[a-z]{3,8}( [a-z]{3,8}){0,4}", fullmatch=True))
@settings(max_examples=40, deadline=None)
def test_what_was_said_is_found_by_its_own_words(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    home = tmp_path_factory.getbasetemp() / "own"
    with Writer(home) as writer:
        ident = put(writer, (Utterance(1, 0.0, 1.0, text),))
    with Reader(home) as reader:
        assert ident in {hit.session for hit in reader.search(f'"{text}"', most=10_000)}
