"""The trigram model against the arithmetic of the ARPA format (back-off: Katz 1987)."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from narrator.hearing.language_model import END, START, UNKNOWN, LanguageModel

ARPA = """\\data\\
ngram 1=5
ngram 2=3
ngram 3=1

\\1-grams:
-99\t<s>\t-0.5
-0.4\tbrake\t-0.3
-0.7\those\t-0.2
-0.9\tpad
-1.2\t</s>

\\2-grams:
-0.1\t<s> brake\t-0.25
-0.2\tbrake hose\t-0.15
-0.6\those </s>

\\3-grams:
-0.05\t<s> brake hose

\\end\\
"""


@pytest.fixture
def model(tmp_path: Path) -> LanguageModel:
    path = tmp_path / "small.arpa"
    path.write_text(ARPA, encoding="utf-8")
    return LanguageModel(path)


@pytest.mark.parametrize(
    ("history", "word", "power"),
    [
        ((), "pad", -0.9),
        ((START,), "brake", -0.1),
        ((START, "brake"), "hose", -0.05),
        (("brake", "hose"), END, -0.15 - 0.6),
        ((START, "brake"), "pad", -0.25 - 0.3 - 0.9),
        (("pad",), "hose", -0.7),  # no weight is given for going back from "pad": none is taken
        (("hose", "pad"), "brake", -0.4),
    ],
)
def test_what_was_not_seen_goes_back_to_fewer_words(
    model: LanguageModel, history: tuple[str, ...], word: str, power: float
) -> None:
    assert model.after(history, word) == pytest.approx(power * math.log(10))


def test_a_sentence_is_the_sum_of_its_words_and_its_end(model: LanguageModel) -> None:
    assert model.score(["brake", "hose"]) == pytest.approx((-0.1 - 0.05 - 0.15 - 0.6) * math.log(10))


def test_a_word_that_it_lacks_is_not_taken_for_another(model: LanguageModel) -> None:
    assert not model.knows("valve")
    assert model.after((), "valve") == UNKNOWN
    assert model.after((START, "valve"), "brake") == pytest.approx(-0.4 * math.log(10))


def test_the_shops_names_come_in_and_go(model: LanguageModel) -> None:
    model.set_names([("brake", "valve")])
    assert model.knows("valve")
    assert model.after(("brake",), "valve") > model.after((), "valve") > UNKNOWN
    model.set_names(())
    assert not model.knows("valve")
