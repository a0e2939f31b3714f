"""The stages run straight over workspaces and as a spaCy pipeline: the same comes out."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from narrator.language.meaning import read_of
from narrator.language.pipeline import STAGES, pipeline, workspaces
from narrator.language.stage import run
from narrator.language.tokens import Notes
from narrator.paths import SAMPLE_SESSIONS
from narrator.utterances import parse_lines

SAID = [
    one.text
    for path in sorted(SAMPLE_SESSIONS.glob("*/utterances.jsonl"))
    for one in parse_lines(path.read_text("utf-8").splitlines())
]


def alike(one: Notes, other: Notes) -> bool:
    """Whether everything but the network's shares is the same."""
    return all(
        getattr(one, f.name) == getattr(other, f.name) for f in fields(Notes) if f.name != "scratch"
    ) and {k: v for k, v in one.scratch.items() if k != "read"} == {
        k: v for k, v in other.scratch.items() if k != "read"
    }


def test_samples_are_understood_alike_with_docs_and_without() -> None:
    docs = list(pipeline().pipe(SAID))
    for doc, notes in zip(docs, workspaces(SAID), strict=True):
        assert alike(doc._.notes, notes)
        assert [token.text for token in doc] == notes.words
        one, other = read_of(doc._.notes), read_of(notes)
        assert one is not None
        assert other is not None
        assert np.allclose(one.tags, other.tags, atol=1e-5)


@given(st.lists(st.text(max_size=60) | st.sampled_from(SAID), max_size=4))
@settings(max_examples=40, deadline=None)
def test_any_text_is_understood_alike_with_docs_and_without(texts: list[str]) -> None:
    for text, notes in zip(texts, workspaces(texts), strict=True):
        assert alike(pipeline()(text)._.notes, notes)


def test_the_stages_run_in_order() -> None:
    assert pipeline().pipe_names == [name for name, _ in STAGES]


def test_no_texts_no_workspaces() -> None:
    assert workspaces([]) == []


def test_an_unknown_stage_is_an_error() -> None:

    with pytest.raises(KeyError):
        run("no such stage", [])
