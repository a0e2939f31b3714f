"""Facts come back as they were given, and cannot be changed by anyone but by forgetting."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.ids import ALPHABET, LENGTH, new_id
from narrator.store.opening import database_path
from narrator.store.rows import Mark, NewSession, Sound, Strike
from narrator.store.schema import ADDITIONS, FACTS
from narrator.values import Correction, Gap, Utterance
from tests.store.helpers import SAID, STARTED, put


def test_facts_come_back_as_given(home: Path) -> None:
    correction = Correction(2, "two ten mil nuts come off", "Ana", STARTED, "misheard")
    strike = Strike(3, "Ana", STARTED, "not ours")
    with Writer(home) as writer:
        ident = put(writer)
        writer.add_correction(ident, correction)
        writer.add_strike(ident, strike)
        writer.add_mark(ident, Mark(4.0, "photo", "bracket"))
        writer.add_sound(ident, Sound("sound.wav", 0.0, "00"))
    with Reader(home) as reader:
        facts = reader.facts(ident)
    assert facts.utterances == SAID
    assert facts.corrections == (correction,)
    assert facts.strikes == (strike,)
    assert facts.marks == (Mark(4.0, "photo", "bracket"),)
    assert facts.gaps == (Gap(2.25, 3.0, "microphone unplugged"),)
    assert facts.sounds == (Sound("sound.wav", 0.0, "00"),)
    row = facts.session
    assert (row.id, row.started, row.audio_seconds, row.spoken_until) == (ident, STARTED, 8.0, 7.5)
    assert (row.utterances, row.gaps, row.state, row.vehicle) == (3, 1, "complete", "2009 Ardenna Volo")


def test_utterances_keep_the_order_in_which_they_came(home: Path) -> None:
    said = tuple(Utterance(i, 0.0, 1.0, str(i)) for i in (7, 3, 5))
    with Writer(home) as writer:
        ident = put(writer, said)
    with Reader(home) as reader:
        assert reader.facts(ident).utterances == said


@pytest.mark.parametrize("table", ["sessions", *FACTS, *ADDITIONS])
@pytest.mark.parametrize(
    "change", ["UPDATE {t} SET {c} = {c}", "DELETE FROM {t}", "REPLACE INTO {t} SELECT * FROM {t}"]
)
def test_any_program_is_refused_a_change_to_facts(home: Path, table: str, change: str) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        writer.add_correction(ident, Correction(1, "x", "Ana", STARTED))
        writer.add_strike(ident, Strike(1, "Ana", STARTED))
        writer.add_mark(ident, Mark(1.0, "photo"))
        writer.add_sound(ident, Sound("sound.wav", 0.0, "00"))
        writer.add_line(ident, 1, "told later", who="Ana", when=STARTED)
    column = "id" if table == "sessions" else "session"
    plain = sqlite3.connect(database_path(home))
    before = plain.execute(f"SELECT * FROM {table}").fetchall()
    assert before
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        plain.execute(change.format(t=table, c=column))
    assert plain.execute(f"SELECT * FROM {table}").fetchall() == before
    plain.close()


def test_an_open_session_is_listed_as_open(home: Path) -> None:
    with Writer(home) as writer:
        writer.start_session(NewSession(STARTED))
    with Reader(home) as reader:
        assert [row.state for row in reader.sessions()] == ["open"]


def test_twice_the_same_utterance_keeps_none(home: Path) -> None:
    with Writer(home) as writer:
        ident = writer.start_session(NewSession(STARTED))
        with pytest.raises(NarratorError) as caught:
            writer.add_utterances(ident, [*SAID, SAID[0]])
        assert caught.value.code == "E310"
        writer.add_utterances(ident, SAID[:1])
        with pytest.raises(NarratorError, match="E310"):
            writer.add_utterances(ident, SAID)
    with Reader(home) as reader:
        assert reader.facts(ident).utterances == SAID[:1]


@pytest.mark.parametrize("bad", [Utterance(2**63, 0, 1, "x"), Utterance(1, 0, float("inf"), "x")])
def test_numbers_out_of_range_are_refused(home: Path, bad: Utterance) -> None:
    with Writer(home) as writer, pytest.raises(NarratorError, match="E314"):
        put(writer, (bad,))
    with Reader(home) as reader:
        assert reader.sessions() == []


def test_what_is_not_there_is_said(home: Path) -> None:
    with Writer(home) as writer:
        ident = put(writer)
        for utterance in (99, 2**70):
            with pytest.raises(NarratorError, match="E311"):
                writer.add_correction(ident, Correction(utterance, "x", "Ana", STARTED))
        for call in (
            lambda: writer.add_utterances("nosuchid", SAID),
            lambda: writer.forget("nosuchid"),
            lambda: writer.keep_record("nosuchid", "1", "{}", ""),
        ):
            with pytest.raises(NarratorError, match="E305"):
                call()


@given(text=st.text(st.characters(codec=None)), speaker=st.none() | st.text())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_can_be_kept(
    tmp_path_factory: pytest.TempPathFactory, text: str, speaker: str | None
) -> None:
    home = tmp_path_factory.getbasetemp() / "anytext"
    with Writer(home) as writer:
        ident = put(writer, (Utterance(1, 0.0, 1.0, text, (), speaker),))
    with Reader(home) as reader:
        kept = reader.facts(ident).utterances[0]
    assert kept.text == text.encode("utf-8", "replace").decode()
    assert kept.speaker == (speaker and speaker.encode("utf-8", "replace").decode())


def test_ids_sort_by_time_and_are_found_by_either_end(home: Path) -> None:
    early, late = new_id(1_800_000_000_000), new_id(1_800_000_000_001)
    assert early < late
    assert len(early) == LENGTH and set(early) <= set(ALPHABET)
    with Writer(home) as writer:
        first = put(writer, started="2031-01-01T08:00:00+00:00")
        second = put(writer, started="2031-01-02T08:00:00+00:00")
    with Reader(home) as reader:
        assert reader.resolve("last") == second
        assert reader.resolve(first) == first
        assert reader.resolve(f" {first.upper()} ") == first
        shared = next(n for n in range(LENGTH) if first[n] != second[n])
        assert reader.resolve(second[: shared + 1]) == second
        for typed, code in (("", "E305"), ("zzzz!", "E305"), (first[:1], "E306")):
            with pytest.raises(NarratorError, match=code):
                reader.resolve(typed)
