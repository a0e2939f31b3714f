"""Things by what the network makes of their words; shares are given, so no training changes the tests."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.language.act_network import TAGS, Read, act_network
from narrator.language.meaning import Meaning, read_of, said
from narrator.language.named import RULE, named
from narrator.language.pipeline import pipeline
from narrator.language.tokens import Notes
from narrator.values import Component, Tool


def doc_of(text: str, **shares: str):
    """A read line whose network says that words are of something; every other word is of nothing."""
    doc = pipeline()(text)
    notes: Notes = doc._.notes
    notes.entities = [e for e in notes.entities if getattr(e, "rule", "") != RULE]
    tags = np.zeros((len(notes.words), len(TAGS)), np.float32)
    tags[:, 0] = 1.0
    for tag, words in shares.items():
        for word in words.split():
            place = notes.words.index(word)
            tags[place] = 0.0
            tags[place, TAGS.index(tag.replace("_", " "))] = 1.0
    notes.scratch["read"] = Read(np.zeros(384, np.float32), tags, np.zeros(len(notes.words), np.float32))
    return doc


def names(doc, sort: type = Component) -> list[str]:
    return [e.name for e in doc._.notes.entities if isinstance(e, sort)]


def test_a_thing_that_no_list_holds_is_taken_by_its_words() -> None:
    doc = doc_of("so that's the quarry basket let off", first_component="quarry", more_component="basket")
    assert "quarry basket" in names(named(doc))


def test_a_thing_that_the_work_is_not_about_is_left_out() -> None:
    doc = doc_of("it wants its own way like a horse that has seen the gate")
    assert "gate" not in names(named(doc))
    kept = doc_of("the waste gate is stuck", first_component="waste", more_component="gate")
    assert any("gate" in name for name in names(named(kept)))


def test_a_word_that_the_network_does_not_know_is_left_to_the_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    network = act_network()
    assert network is not None
    monkeypatch.setattr(type(network), "knows", lambda *_: False)
    before = names(doc_of("the alternator is dead"))
    assert names(named(doc_of("the alternator is dead"))) == before == ["alternator"]


def test_what_is_taken_already_stays_as_it_is() -> None:
    doc = doc_of("two ten mil bolts off the cover", first_component="bolts cover")
    assert names(named(doc)) == ["cover"]


def test_a_tool_is_a_tool() -> None:
    doc = doc_of("out with the bent dibber", first_tool="bent", more_tool="dibber")
    assert "bent dibber" in names(named(doc), Tool)


def test_lines_of_a_batch_are_read_as_each_alone() -> None:
    texts = ["the pump is dead", "", "is it the relay ?", "two bolts off"]
    together = [read_of(doc._.notes) for doc in pipeline().pipe(texts, batch_size=4)]
    for text, read in zip(texts, together, strict=True):
        alone = read_of(Meaning()(pipeline()(text))._.notes)
        assert alone is not None
        assert read is not None
        assert np.allclose(alone.line, read.line, atol=1e-5)
        assert np.allclose(alone.tags, read.tags, atol=1e-5)


def test_a_question_mark_is_read_as_a_word() -> None:
    assert said(pipeline()("Is it the relay?")._.notes)[-1] == "?"
    assert said(pipeline()("It is the relay.")._.notes)[-1] != "?"
