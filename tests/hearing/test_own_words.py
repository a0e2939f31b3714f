from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from narrator.hearing.both_ears import BothEars
from narrator.hearing.language_model import OWN, UNKNOWN, LanguageModel
from narrator.hearing.own_words import OwnWords
from narrator.values import Word
from tests.hearing.test_both_ears import PIECE, Ear, First, said
from tests.hearing.test_words import ARPA

NO_SOUND = np.zeros((1, 1), np.float32)


@pytest.fixture
def language(tmp_path: Path) -> LanguageModel:
    path = tmp_path / "model.arpa"
    path.write_text(ARPA)
    return LanguageModel(path)


def write(path: Path, *rows: str, at: int = 1) -> Path:
    """A vocabulary file with a time of its own."""
    path.write_text("\n".join(f"[[word]]\n{row}" for row in rows))
    os.utime(path, ns=(at, at))
    return path


class Fits:
    """A sound in which ``name`` was said."""

    def __init__(self, name: str, gain: float = 20.0) -> None:
        self._name, self._gain = name.split(), gain

    def fits(self, scores: Any, texts: Sequence[Sequence[str]]) -> list[float]:
        size = len(self._name)
        return [self._gain * any(list(t[i : i + size]) == self._name for i in range(len(t))) for t in texts]


def heard(own: OwnWords, words: list[Word], fits: Fits) -> str:
    return " ".join(word.word for word in own.placed(words, NO_SOUND, fits))


def test_names_steer_the_language_and_leave_it_again(tmp_path: Path, language: LanguageModel) -> None:
    path = write(tmp_path / "v.toml", 'name = "flobber valve"')
    own = OwnWords(path, language)
    assert language.knows("flobber") and own.new("flobber")
    assert language.after(("ten",), "flobber") == OWN
    assert language.after(("flobber",), "valve") > language.after(("ten",), "valve")
    assert not own.new("bolts")
    write(path, 'name = "grommit"', at=2)
    own.refresh()
    assert not language.knows("flobber") and language.knows("grommit")
    path.unlink()
    own.refresh()
    assert language.after((), "grommit") == UNKNOWN and own.names == ()


def test_a_file_that_cannot_be_understood_keeps_the_words_there_were(tmp_path: Path) -> None:
    own = OwnWords(write(tmp_path / "v.toml", 'name = "flobber valve"'))
    write(tmp_path / "v.toml", 'name = "flobber', at=2)
    own.refresh()
    assert own.names == (("flobber", "valve"),)


def test_a_name_is_put_where_it_fits_the_sound_better_than_what_sounds_alike(tmp_path: Path) -> None:
    own = OwnWords(write(tmp_path / "v.toml", 'name = "flobber valve"'))
    words = said("the flow bur valve, is leaking", 0.4)
    assert heard(own, words, Fits("flobber valve")) == "the flobber valve, is leaking"
    assert heard(own, words, Fits("other")) == "the flow bur valve, is leaking"
    assert heard(own, said("a wheel came off", 0.4), Fits("flobber valve")) == "a wheel came off"


def test_letters_with_marks_are_said_plainly_and_written_as_the_shop_does(
    tmp_path: Path, language: LanguageModel
) -> None:
    own = OwnWords(write(tmp_path / "v.toml", 'name = "Kübel"', 'name = "bölts"'), language)
    assert own.names == (("kuebel",), ("bolts",))
    assert heard(own, said("strap kubell, leaks", 0.3), Fits("kuebel")) == "strap kübel, leaks"
    assert heard(own, said("ten kuebel. ten", 0.9), Fits("other")) == "ten kübel. ten", (
        "dictated as it is said"
    )
    assert heard(own, said("ten bolts", 0.9), Fits("other")) == "ten bolts", "a word of everybody's stays"


def test_a_number_never_gives_way_to_a_name(tmp_path: Path) -> None:
    own = OwnWords(write(tmp_path / "v.toml", 'name = "tenn"'))
    assert heard(own, said("ten bolts", 0.1), Fits("tenn")) == "ten bolts"


def test_a_sure_dictation_needs_more(tmp_path: Path) -> None:
    own = OwnWords(write(tmp_path / "v.toml", 'name = "flobber"'))
    assert heard(own, said("slobber", 0.98), Fits("flobber", 8.0)) == "slobber"
    assert heard(own, said("slobber", 0.3), Fits("flobber", 8.0)) == "flobber"


def test_the_shops_own_pronunciation_is_used(tmp_path: Path) -> None:
    row = 'name = "qx"\npronounced = ["F L AA B ER"]'
    own = OwnWords(write(tmp_path / "v.toml", row))
    assert heard(own, said("slobber", 0.3), Fits("qx")) == "qx"
    assert (
        heard(OwnWords(write(tmp_path / "w.toml", 'name = "qx"')), said("slobber", 0.3), Fits("qx")) != "qx"
    )


def test_the_second_ear_has_no_say_where_a_name_stands(tmp_path: Path, language: LanguageModel) -> None:
    ear = Ear("bolts bolts", "bolts bolts")
    ear.own = OwnWords(write(tmp_path / "v.toml", 'name = "flobber"'), language)
    words = BothEars(First(said("flobber", 0.3)), ear).decode(PIECE)  # type: ignore[arg-type]
    assert [word.word for word in words] == ["flobber"]
