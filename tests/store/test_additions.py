"""Lines that were not said: facts beside what was heard, at their places."""

from __future__ import annotations

from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.store import Reader, Writer
from narrator.store.captions import to_webvtt
from narrator.store.placing import in_place, moment
from narrator.store.review import ReviewReader, ReviewWriter
from narrator.store.rows import Addition, NewSession, Strike
from narrator.values import Utterance
from tests.store.helpers import SAID, STARTED, facts_now, put, record_json


def test_an_added_line_stands_where_it_was_put_and_says_who_put_it(home: Path) -> None:
    with Writer(home) as writer, Reader(home) as reader:
        one = put(writer)
        before = reader.facts_version(one)
        for after, text in (
            (1, "later"),
            (1, "sooner"),
            (3, "at the end"),
            (0, "at the beginning"),
            (4, "last"),
        ):
            writer.add_line(one, after, f" {text} ", who="Ana", when=STARTED, reason="on the phone")
        facts = reader.facts(one)
        assert [u.id for u in facts.utterances] == [7, 1, 5, 4, 8, 2, 3, 6]
        starts = [u.start for u in facts.utterances]
        assert starts == sorted(starts) and facts.version != before
        added = {u.id: u for u in facts.utterances if u.id > len(SAID)}
        assert [added[n].text for n in sorted(added)] == [
            "later",
            "sooner",
            "at the end",
            "at the beginning",
            "last",
        ]
        assert all(u.start == u.end and u.engine == "added" and not u.words for u in added.values())
        assert facts.additions[0] == Addition(4, 1, "Ana", STARTED, "on the phone")
        assert [hit.utterance for hit in reader.search("sooner")] == [5], "it is found like any other"
        assert "later" not in to_webvtt(facts.utterances) and "ground strap" in to_webvtt(facts.utterances)


def test_an_approved_sheet_and_a_job_being_narrated_take_no_line(home: Path) -> None:
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        one = put(writer)
        live = writer.start_session(NewSession(STARTED))
        writer.add_utterances(live, SAID)
        for session, after, text, code in (
            (one, 9, "x", "E311"), (one, -1, "x", "E311"), (one, 1, " – ", "E317"), (live, 1, "x", "E316"),
            ("000000000000", 0, "x", "E305"),
        ):  # fmt: skip
            with pytest.raises(NarratorError) as caught:
                writer.add_line(session, after, text, who="Ana", when=STARTED)
            assert caught.value.code == code
        stored = writer.keep_record(one, "t1", record_json(), facts_now(home, one))
        assert stored is not None
        writer.add_line(one, 1, "told later", who="Ana", when=STARTED)
        assert writer.approve(one, "Ben", STARTED, stored.sha256) is None, (
            "the record that was read is another"
        )
        stored = writer.keep_record(one, "t1", record_json(), facts_now(home, one))
        assert stored is not None and writer.approve(one, "Ben", STARTED, stored.sha256)
        with pytest.raises(NarratorError, match="E315"):
            writer.add_line(one, 1, "too late", who="Ana", when=STARTED)
        assert len(reader.facts(one).additions) == 1
        _, (change, _) = reader.last_changes(one, 0)
        assert (change.kind, change.utterance, change.who) == ("additions", 4, "Ana")
        writer.reopen(one, "Ben", STARTED, "a line more")
        writer.add_strike(one, Strike(4, "Ana", STARTED))
        writer.forget(one)
        with writer.transaction() as db:
            assert db.table("additions").count == 0


def test_a_line_stands_before_the_next_begins() -> None:
    said = [Utterance(1, 0.0, 4.0, "a"), Utterance(2, 3.0, 5.0, "b"), Utterance(3, 5.0, 6.0, "c")]
    assert [moment(said, after) for after in (0, 1, 2, 3)] == [0.0, 1.5, 4.0, 6.0]
    assert moment([], 0) == 0.0
    assert in_place(said, ()) == said
