"""Decisions, approvals and revisions: facts that lock a sheet and open it again."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.store.review import Decision, ReviewReader, ReviewWriter
from narrator.store.rows import NewSession, Strike
from narrator.values import Correction, Utterance
from tests.store.helpers import facts_now, put, record_json

WHEN = "2031-03-04T10:00:00+01:00"
LOOKS = (
    {"look": "repair.1.aa", "kind": "repair", "reason": "r", "utterance": 1, "at": 0.5, "span_start": 0,
     "span_end": 3},
    {"look": "gap.2250", "kind": "gap", "reason": "g", "utterance": None, "at": 2.25, "span_start": None,
     "span_end": None},
)  # fmt: skip


def ready(writer: ReviewWriter) -> tuple[str, str]:
    """A session with a record and two looks, and the record's hash."""
    one = put(writer)
    stored = writer.keep_record(one, "t1", record_json(), facts_now(writer.home, one), LOOKS)
    assert stored is not None
    return one, stored.sha256


def test_a_decision_closes_a_look_and_can_be_undone(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one, _ = ready(writer)
        assert [(k.look, k.span, k.open) for k in reader.looks(one)] == [
            ("repair.1.aa", (0, 3), True), ("gap.2250", None, True),
        ]  # fmt: skip
        writer.add_decision(one, Decision("repair.1.aa", 1, "accepted", "Ana", WHEN))
        assert [k.open for k in reader.looks(one)] == [False, True]
        assert reader.job(one).looks == 1
        writer.add_decision(one, Decision("repair.1.aa", 1, "undone", "Ben", WHEN))
        assert [(k.open, k.who) for k in reader.looks(one)] == [(True, "Ben"), (True, None)]
        assert reader.job(one).looks == 2


def test_an_approved_sheet_is_locked_until_it_is_reopened(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one, digest = ready(writer)
        approved = writer.approve(one, "Ana", WHEN, digest)
        assert approved is not None and approved.revision == 1 and approved.sha256 == digest
        assert reader.job(one).state == "approved" and reader.approval(one) == approved
        for change in (
            lambda: writer.add_correction(one, Correction(1, "x", "Ben", WHEN)),
            lambda: writer.add_strike(one, Strike(1, "Ben", WHEN)),
            lambda: writer.add_decision(one, Decision("gap.2250", None, "dismissed", "Ben", WHEN)),
            lambda: writer.approve(one, "Ben", WHEN, digest),
        ):
            with pytest.raises(NarratorError) as caught:
                change()
            assert caught.value.code == "E315"
        assert writer.reopen(one, "Ben", WHEN, "a bolt was left over") == 2
        with pytest.raises(NarratorError, match="E701"):
            writer.reopen(one, "Ben", WHEN, "again")
        assert (reader.job(one).state, reader.job(one).revision) == ("review", 2)
        writer.add_correction(one, Correction(1, "x", "Ben", WHEN))
        assert [a.revision for a in reader.approvals(one)] == [1]
        assert [r.reason for r in reader.reopenings(one)] == ["a bolt was left over"]


def test_only_the_record_that_was_read_is_approved(home: Path) -> None:
    with ReviewWriter(home) as writer:
        one, digest = ready(writer)
        assert writer.approve(one, "Ana", WHEN, "0" * 64) is None
        writer.add_correction(one, Correction(1, "the ground strap is tight", "Ben", WHEN))
        assert writer.approve(one, "Ana", WHEN, digest) is None, "made of older facts"
        with pytest.raises(NarratorError, match="E305"):
            writer.approve("000000000000", "Ana", WHEN, digest)


def test_a_correction_on_an_unseen_one_is_refused(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one, _ = ready(writer)
        assert writer.correct_if_unchanged(one, Correction(1, "first", "Ana", WHEN), 0)
        assert not writer.correct_if_unchanged(one, Correction(1, "second", "Ben", WHEN), 0)
        assert [c.text for c in reader.facts(one).corrections] == ["first"]
        assert reader.line_version(one, 1) == 1
        assert writer.correct_if_unchanged(one, Correction(1, "second", "Ben", WHEN), 1)
        count, news = reader.last_changes(one, 1)
        assert count == 2 and [(n.kind, n.utterance, n.who) for n in news] == [("corrections", 1, "Ben")]


@pytest.mark.parametrize("table", ["decisions", "approvals", "reopenings"])
def test_what_was_decided_cannot_be_altered(home: Path, table: str) -> None:
    with ReviewWriter(home) as writer:
        one, digest = ready(writer)
        writer.add_decision(one, Decision("gap.2250", None, "dismissed", "Ana", WHEN))
        writer.approve(one, "Ana", WHEN, digest)
        writer.reopen(one, "Ana", WHEN, "")
        for change in (f"UPDATE {table} SET who = 'X'", f"DELETE FROM {table}"):
            with pytest.raises(NarratorError, match="append-only") as caught, writer.transaction() as db:
                db.execute(change)
            assert isinstance(caught.value.__cause__, sqlite3.IntegrityError)
        writer.forget(one)
        with writer.transaction() as db:
            assert db.table(table).count == 0


def test_jobs_are_found_by_state_vehicle_file_and_words(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one, digest = ready(writer)
        two = put(writer, (Utterance(1, 0.0, 1.0, "100% of the_fuel is gone"),), "2031-03-05T09:00:00+01:00")
        live = writer.start_session(
            NewSession("2031-03-06T09:00:00+01:00", "Bench.wav", None, "Tern 50% off")
        )
        writer.approve(one, "Ana", WHEN, digest)
        assert [row.id for row in reader.jobs().rows] == [live, two, one]
        assert reader.states() == {"live": 1, "review": 1, "approved": 1, "broken": 0}
        assert [row.id for row in reader.jobs(state="approved").rows] == [one]
        expected = {
            "bench": [live], "50%": [live], "ground strap": [one], "fuel": [two], '"gone fuel"': [],
            "volo": [two, one], one[-4:]: [one], "' OR 1=1 --": [], "%": [live], "_": [],
            "\x00": [live, two, one],
        }  # fmt: skip
        for typed, found in expected.items():
            assert [row.id for row in reader.jobs(typed).rows] == found, typed
        page = reader.jobs(most=1, skip=1)
        assert (page.total, [row.id for row in page.rows]) == (3, [two])


def test_new_lines_are_seen_from_another_connection(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one = writer.start_session(NewSession("2031-03-06T09:00:00+01:00"))
        before = reader.data_version()
        writer.add_utterances(one, [Utterance(7, 0.0, 1.0, "first"), Utterance(9, 1.0, 2.0, "second")])
        assert reader.data_version() != before
        lines = reader.lines_after(one, 0)
        assert [(line.id, line.text) for line in lines] == [(7, "first"), (9, "second")]
        assert [line.id for line in reader.lines_after(one, lines[0].seq)] == [9]


def test_finished_jobs_without_todays_record_are_named(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one, _ = ready(writer)
        two = put(writer)
        assert reader.without_looks("t1") == [two]
        assert set(reader.without_looks("t2")) == {one, two}
