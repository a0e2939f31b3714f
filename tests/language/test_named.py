"""Things by what the network makes of their words; shares are given, so no training changes the tests."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.language.act_network import TAGS, Read, act_network
from narrator.language.meaning import meaning, read_of, said
from narrator.language.named import RULE, named
from narrator.language.pipeline import workspaces
from narrator.language.tokens import Notes, split_words
from narrator.values import Component, Tool


def line_of(text: str, **shares: str) -> Notes:
    """A read line whose network says that words are of something; every other word is of nothing."""
    notes = workspaces([text])[0]
    notes.entities = [e for e in notes.entities if getattr(e, "rule", "") != RULE]
    tags = np.zeros((len(notes.words), len(TAGS)), np.float32)
    tags[:, 0] = 1.0
    for tag, words in shares.items():
        for word in words.split():
            place = notes.words.index(word)
            tags[place] = 0.0
            tags[place, TAGS.index(tag.replace("_", " "))] = 1.0
    line, kinds, meant = np.zeros(384, np.float32), tags.argmax(axis=1).tolist(), [0.0] * len(notes.words)
    notes.scratch["read"] = Read(line, tags, kinds, meant, tags)
    return notes


def after_named(notes: Notes) -> Notes:
    """The same after the stage."""
    named(notes)
    return notes


def names(notes: Notes, sort: type = Component) -> list[str]:
    return [e.name for e in notes.entities if isinstance(e, sort)]


def test_a_thing_that_no_list_holds_is_taken_by_its_words() -> None:
    line = line_of("so that's the quarry basket let off", first_component="quarry", more_component="basket")
    assert "quarry basket" in names(after_named(line))


def test_a_thing_that_the_work_is_not_about_is_left_out() -> None:
    line = line_of("it wants its own way like a horse that has seen the gate")
    assert "gate" not in names(after_named(line))
    kept = line_of("the waste gate is stuck", first_component="waste", more_component="gate")
    assert any("gate" in name for name in names(after_named(kept)))


def test_a_word_that_the_network_does_not_know_is_left_to_the_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    network = act_network()
    assert network is not None
    monkeypatch.setattr(type(network), "knows", lambda *_: False)
    before = names(line_of("the alternator is dead"))
    assert names(after_named(line_of("the alternator is dead"))) == before == ["alternator"]


def test_what_is_taken_already_stays_as_it_is() -> None:
    line = line_of("two ten mil bolts off the cover", first_component="bolts cover")
    assert names(after_named(line)) == ["cover"]


def test_a_tool_is_a_tool() -> None:
    line = line_of("out with the bent dibber", first_tool="bent", more_tool="dibber")
    assert "bent dibber" in names(after_named(line), Tool)


def test_lines_of_a_batch_are_read_as_each_alone() -> None:
    texts = ["the pump is dead", "", "is it the relay ?", "two bolts off"]
    together = [read_of(notes) for notes in workspaces(texts)]
    for text, read in zip(texts, together, strict=True):
        line = split_words(text)
        meaning([line])
        alone = read_of(line)
        assert alone is not None
        assert read is not None
        assert np.allclose(alone.line, read.line, atol=1e-5)
        assert np.allclose(alone.tags, read.tags, atol=1e-5)


def test_a_question_mark_is_read_as_a_word() -> None:
    assert said(split_words("Is it the relay?"))[-1] == "?"
    assert said(split_words("It is the relay."))[-1] != "?"
