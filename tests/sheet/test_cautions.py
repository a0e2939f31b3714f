"""Usual cautions: each topic has an example and a counter-example, and states no wait time."""

from __future__ import annotations

import re

import pytest

from narrator.sheet.cautions import Caution, cautions, raised
from tests.sheet import golden


@pytest.mark.parametrize("caution", cautions(), ids=lambda c: c.id)
def test_examples(caution: Caution) -> None:
    assert caution.raised_by(caution.yes)
    assert not caution.raised_by(caution.no)


@pytest.mark.parametrize("caution", cautions(), ids=lambda c: c.id)
def test_no_wait_time_and_an_authority(caution: Caution) -> None:
    assert not re.search(r"\d+\s*(?:s|sec|seconds?|min|minutes?|hours?)\b", caution.line)
    assert caution.authority
    assert caution.seen


def test_ids_are_unique() -> None:
    assert len({c.id for c in cautions()}) == len(cautions())


def test_words_match_whole_and_with_hyphens() -> None:
    airbag = next(c for c in cautions() if c.id == "airbag")
    assert airbag.raised_by("unplugged the air-bags") == "air-bags"
    assert airbag.raised_by("airbagged") is None


def test_first_mention_is_kept_and_asides_are_not_read() -> None:
    found = {r.caution.id: r.utterance for r in raised(golden.record())}
    assert found["jack"] == 4
    assert found["hot_coolant"] == 5
    record = golden.record()
    record.utterances[-1].text = record.utterances[-1].clean = "he left the torch at home"
    assert "hot_work" not in {r.caution.id for r in raised(record)}


def test_a_component_raises_its_topic() -> None:
    record = golden.empty()
    record.utterances = golden.record().utterances[-2:-1]
    record.utterances[0].text = record.utterances[0].clean = "plug is off it"
    record.utterances[0].entities = [{"type": "component", "name": "clock spring"}]
    assert [r.caution.id for r in raised(record)] == ["airbag"]
