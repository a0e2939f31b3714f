"""Where remarks end within a piece of sound; the sentences are invented and stand in no narration."""

from __future__ import annotations

import pytest

from narrator.hearing.language_model import LanguageModel, shared
from narrator.hearing.moonshine_engine import LANGUAGE
from narrator.hearing.remarks import LONG_S, marked, remarks
from narrator.values import Word

BEFORE = "well the customer says that it only does it when the engine is hot [0.9]"
"""So long a remark that what follows is in a piece of several."""


@pytest.fixture(scope="module")
def trade() -> LanguageModel:
    return shared(LANGUAGE)


def spoken(text: str) -> list[Word]:
    """Words of 0.5 s each, with a pause of so many seconds where a number in brackets stands."""
    at, words = 0.0, list[Word]()
    for token in text.split():
        if token.startswith("["):
            at += float(token.strip("[]"))
            continue
        words.append(Word(token, at, at + 0.5, 0.9))
        at += 0.5
    return words


def parts(text: str, language: LanguageModel) -> list[str]:
    found = remarks(marked(spoken(f"{BEFORE} {text}"), language), measured=True)
    return [" ".join(word.word for word in part) for part in found[1:]]


@pytest.mark.parametrize(
    "text",
    [
        "the pump spins freely [0.4] so it's not the pump",
        "three bolts out [0.35] now the cover comes off",
        "could be the relay [0.5] meter across the battery",
        "i cleaned the plug [1.1] and a new gasket",
    ],
)
def test_remarks_run_together_are_parted(text: str, trade: LanguageModel) -> None:
    assert len(parts(text, trade)) == 2


@pytest.mark.parametrize(
    "text",
    [
        "there are four [0.5] fourteen mil bolts",
        "it reads twelve point [0.6] four volts",
        "take the [0.6] cover off",
        "five bolts no [0.5] six bolts came off",
        "the pump spins freely [0.2] so it's not the pump",
    ],
)
def test_looking_for_a_word_parts_nothing(text: str, trade: LanguageModel) -> None:
    assert len(parts(text, trade)) == 1


def test_what_may_be_a_command_is_parted_at_long_pauses_alone(trade: LanguageModel) -> None:
    words = marked(spoken(f"{BEFORE} the pump spins freely [0.4] so it's not the pump"), trade)
    assert [len(part) for part in remarks(words, measured=True)] == [14, 4, 5]
    assert [len(part) for part in remarks(words, measured=True, whole=True)] == [14, 9]


def test_a_short_piece_is_one_remark_however_it_was_said(trade: LanguageModel) -> None:
    assert not any(
        word.last for word in marked(spoken("three bolts out [0.35] now the cover comes off"), trade)
    )


def test_without_measured_times_and_marks_a_piece_is_one_remark() -> None:
    words = spoken(f"loose [{LONG_S + 1}] seized")
    assert remarks(words, measured=False) == [words]


def test_no_mark_is_left_on_the_words_that_are_kept(trade: LanguageModel) -> None:
    words = marked(spoken(f"{BEFORE} three bolts out [0.35] now the cover comes off"), trade)
    assert any(word.last for word in words)
    assert not any(word.last for part in remarks(words, measured=True) for word in part)
