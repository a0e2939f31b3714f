from __future__ import annotations

from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.hearing.language_model import UNKNOWN, LanguageModel
from narrator.hearing.pronounce import parse, pronunciations
from narrator.hearing.spoken import in_words

ARPA = """\\data\\
ngram 1=4
ngram 2=1

\\1-grams:
-1.0\tbolts\t-0.5
-2.0\tten
-1.5\t</s>
-99\t<s>\t-0.3

\\2-grams:
-0.1\t<s> ten

\\end\\
"""


@pytest.fixture
def model(tmp_path: Path) -> LanguageModel:
    path = tmp_path / "model.arpa"
    path.write_text(ARPA)
    return LanguageModel(path)


def test_a_seen_pair_has_its_own_weight_and_others_back_off(model: LanguageModel) -> None:
    assert model.after(("<s>",), "ten") == pytest.approx(-0.1 * 2.302585)
    assert model.after(("<s>",), "bolts") == pytest.approx(-1.3 * 2.302585)
    assert model.after(("ten",), "caliper") == UNKNOWN
    assert model.score(["ten", "bolts"]) == pytest.approx((-0.1 - 1.0 - 0.5 - 1.5) * 2.302585)
    assert model.knows("bolts") and not model.knows("caliper")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("Two 10mm bolts,", "two ten millimeters bolts"),
        ("12.4 V", "twelve point four volts"),
        ("It's 98,400 km", "it's ninety eight thousand four hundred kilometers"),
        ("P0301", "p zero three zero one"),
        ("in 2014", "in twenty fourteen"),
        ("$81.50, or £20", "eighty one dollars fifty or twenty pounds"),
        ("...", ""),
    ],
)
def test_figures_are_written_as_they_are_said(written: str, said: str) -> None:
    assert in_words(written) == said


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("torque", "T AO R K"),
        ("bolts", "B OW L T S"),
        ("spanner", "S P AE N ER"),
        ("crosshead", "K R AO S HH EH D"),
        ("pump's", "P AH M P S"),
        ("leakin", "L IY K IH N"),
        ("psi", "P IY EH S AY"),
    ],
)
def test_words_are_looked_up_taken_apart_or_given_by_hand(word: str, said: str) -> None:
    assert tuple(said.split()) in pronunciations(word)


def test_every_word_with_letters_can_be_said() -> None:
    assert pronunciations("ghrzv")
    assert pronunciations("qwollipex")
    assert not pronunciations("'")


def test_a_pronunciation_of_the_shops_own_is_checked() -> None:
    assert parse("k ae1 l ih0 p er") == ("K", "AE", "L", "IH", "P", "ER")
    with pytest.raises(NarratorError) as failure:
        parse("K QQ")
    assert failure.value.code == "E220"


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("Kübel", "kuebel"), ("ku\u0308bel", "kuebel"), ("groß", "gross"), ("piñon", "pinon"),
        ("łódź", "lodz"), ("ærø", "ero"), ("naïve", "naive"), ("2½ µm", "two m"), ("bolt's", "bolt's"),
    ],
)  # fmt: skip
def test_letters_with_marks_are_said_by_their_plain_ones(written: str, said: str) -> None:
    assert in_words(written) == said
