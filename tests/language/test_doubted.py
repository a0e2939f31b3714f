"""Things that the network doubts, by whether the job has named them before; shares are given."""

from __future__ import annotations

import numpy as np

from narrator.language.act_network import TAGS, Read
from narrator.language.doubted import recall
from narrator.language.named import RULE, named
from narrator.language.pipeline import workspaces
from narrator.language.tokens import Notes
from narrator.values import Component


def after_named(text: str, word: str, share: float) -> Notes:
    """A line of which the network holds ``word`` for a part with ``share``, every other word for none."""
    notes = workspaces([text])[0]
    notes.scratch.pop("doubted", None)
    notes.entities = [e for e in notes.entities if getattr(e, "rule", "") != RULE]
    tags = np.zeros((len(notes.words), len(TAGS)), np.float32)
    tags[:, 0] = 1.0
    tags[notes.words.index(word), :2] = 1.0 - share, share
    line, kinds, meant = np.zeros(384, np.float32), tags.argmax(axis=1).tolist(), [0.0] * len(notes.words)
    notes.scratch["read"] = Read(line, tags, kinds, meant, tags)
    named(notes)
    return notes


def parts(notes: Notes, known: set[str]) -> list[str]:
    recall(notes, known)
    return [e.name for e in notes.entities if isinstance(e, Component)]


def test_a_doubted_part_counts_only_where_the_job_has_named_it() -> None:
    text = "it sat there behind the radiator"
    assert parts(after_named(text, "radiator", 0.2), set()) == []
    assert parts(after_named(text, "radiator", 0.2), {"radiator"}) == ["radiator"]
    assert parts(after_named(text, "radiator", 0.9), set()) == ["radiator"]


def test_what_is_ruled_out_stays_out() -> None:
    assert parts(after_named("it sat there behind the radiator", "radiator", 0.01), {"radiator"}) == []


def test_a_word_that_no_list_holds_is_taken_again_more_easily() -> None:
    text = "and the quarrel has a crack"
    assert "quarrel" not in parts(after_named(text, "quarrel", 0.55), set())
    assert "quarrel" in parts(after_named(text, "quarrel", 0.55), {"quarrel"})


def test_the_names_of_a_line_are_kept_for_those_after_it() -> None:
    known: set[str] = set()
    parts(after_named("the radiator is wet", "radiator", 0.9), known)
    assert known == {"radiator"}
