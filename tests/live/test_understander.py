from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from narrator.errors import NarratorError
from narrator.live.understander import Apart, Here
from narrator.live.understander_main import answered
from narrator.session import keep_session
from narrator.values import Utterance

SAID = [
    "Two ten mil bolts off the air box.",
    "Battery reads twelve point four volts.",
    "Could be the alternator.",
]


@pytest.fixture
def session(tmp_path: Path) -> str:
    return keep_session(
        tmp_path, [Utterance(i, i * 5.0, i * 5.0 + 3, text) for i, text in enumerate(SAID, 1)]
    )


def test_a_process_of_its_own_understands_the_same_and_is_started_again_when_it_dies(
    tmp_path: Path, session: str
) -> None:
    here, apart = Here(tmp_path), Apart(tmp_path)
    try:
        apart.prepare()
        assert apart.show(session, 3) == here.show(session, 3)
        assert apart.show(session, 3).off == ("2 bolts 10 mm, air box",)
        assert apart.show(session, 2).lines == here.show(session, 3).lines[:2], "what is not judged yet waits"
        assert apart._process is not None
        os.kill(apart._process.pid, signal.SIGKILL)
        assert "12.4 volts" in apart.answer(session, "last_reading", "")
        assert apart.answer(session, "help", "Say it.") == "Say it."
        with pytest.raises(NarratorError) as caught:
            apart.show("never", 1)
        assert caught.value.code == "E305"
    finally:
        apart.close()
    assert apart._process is None


def test_an_error_goes_over_the_pipe_in_words(tmp_path: Path, session: str) -> None:
    here = Here(tmp_path)
    assert answered(here, {"session": "never", "upto": 1})["code"] == "E305"
    assert "twelve" not in answered(here, {"session": session, "name": "last_reading"})["answer"]


def test_a_process_that_cannot_start_is_a_coded_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("narrator.live.understander.sys.executable", "/bin/false")
    apart = Apart(tmp_path)
    with pytest.raises(NarratorError) as caught:
        apart.show("any", 1)
    assert caught.value.code == "E606"


def test_a_broken_file_of_words_is_told_in_words(
    tmp_path: Path, session: str, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "vocabulary.toml").write_text("[[word]]\nname")
    apart = Apart(tmp_path)
    try:
        with pytest.raises(NarratorError) as caught:
            apart.show(session, 3)
    finally:
        apart.close()
    assert "vocabulary.toml is not valid" in caught.value.message
    assert capfd.readouterr().err == ""
