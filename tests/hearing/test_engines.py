"""The engines: their parts by hand, the bundled one for real, Vosk through a stand-in for its wheel."""

from __future__ import annotations

import json
import math
import os
import sys
import types
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import pytest

from narrator.errors import NarratorError
from narrator.hearing import moonshine_engine, vosk_engine
from narrator.hearing.hear import hear
from narrator.hearing.moonshine_engine import END, MoonshineDecoder, Token, group_words
from narrator.hearing.moonshine_model import read_tokens
from narrator.hearing.recognizer import open_decoder, open_recognizer
from narrator.hearing.segmenter import Segment
from narrator.hearing.source import FileSource
from narrator.hearing.vosk_engine import UNKNOWN, VoskDecoder
from narrator.settings import Settings
from narrator.values import Utterance

TWO = Path(__file__).parent / "data" / "two_utterances.flac"


def piece(first: int = 160_000, seconds: float = 1.0) -> Segment:
    count = int(seconds * 50)
    return Segment(first, np.zeros(count * 320, np.float32), np.ones(count, bool))


def test_token_list_with_one_and_two_byte_lengths() -> None:
    long = b"x" * 300
    data = bytes([3]) + b"abc" + bytes([300 % 128 + 128, 300 // 128]) + long + bytes([0])
    assert read_tokens(data) == [b"abc", long, b""]
    for cut in (2, 5, 100):
        with pytest.raises(ValueError, match="inside a token"):
            read_tokens(data[:cut])


def test_tokens_make_words_with_the_product_of_their_probabilities() -> None:
    half = math.log(0.5)
    tokens = [
        Token("▁cal".encode(), half),
        Token(b"iper", half),
        Token("▁12".encode(), 0.0),
        Token(b"<0xC2>", half),
        Token(b"<0xB0>", 0.0),
        Token("▁".encode(), 0.0),
    ]
    assert group_words(tokens) == [("caliper", 0.25), ("12°", 0.5)]


def test_moonshine_without_its_package_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(moonshine_engine, "package_folder", lambda _package, _folder: None)
    with pytest.raises(NarratorError, match=r"E204.*moonshine-voice"):
        moonshine_engine.open_decoder(Settings(home=tmp_path))
    with pytest.raises(NarratorError, match="E205"):
        moonshine_engine.open_decoder(Settings(home=tmp_path), tmp_path)


@pytest.mark.engine
def test_the_bundled_engine_hears_two_utterances(tmp_path: Path) -> None:
    one, two = hear(FileSource(TWO), open_recognizer(Settings(home=tmp_path), "moonshine"))
    assert isinstance(one, Utterance)
    assert isinstance(two, Utterance)
    assert "water pump is leaking" in one.text.lower()
    assert "check the belt" in two.text.lower()
    assert (one.engine, one.timing) == ("moonshine-tiny-en+trade+shop", "aligned")
    assert abs(one.start - 0.7) < 0.2
    assert abs(two.start - 3.5) < 0.3
    for utterance in (one, two):
        assert " ".join(w.word for w in utterance.words) == utterance.text
        assert all(w.conf is not None and 0.0 < w.conf <= 1.0 for w in utterance.words)
        assert all(utterance.start <= w.start <= w.end <= utterance.end for w in utterance.words)


class Looping:
    """Repeats itself on sound longer than ``patience``; else says one word and ends."""

    tokens: ClassVar[list[bytes]] = [
        b"",
        b"",
        b"",
        b"\xe2\x96\x81going",
        b"\xe2\x96\x81to",
        b"\xe2\x96\x81bolt",
    ]

    def __init__(self, patience: float) -> None:
        self.patience = patience
        self.heard: list[float] = []

    def encode(self, samples: np.ndarray) -> list[int]:
        self.heard.append(len(samples) / 16_000)
        return [0]

    def step(self, state: list[int], _token: int) -> np.ndarray:
        looping = self.heard[-1] > self.patience
        token = (3 + state[0] % 2) if looping else (5 if state[0] == 0 else END)
        state[0] += 1
        logp = np.full(6, -9.0, np.float32)
        logp[token] = -0.1
        return logp


def test_a_piece_that_makes_the_model_loop_is_heard_again_in_halves() -> None:
    network = Looping(patience=4.6)
    words = MoonshineDecoder(network).decode(piece(seconds=6.0))
    assert [w.word for w in words] == ["bolt", "bolt"]
    assert len(network.heard) == 3
    assert network.heard[1] + network.heard[2] == pytest.approx(6.0)
    assert words[0].end <= words[1].start


def test_a_loop_that_never_ends_is_kept_once_at_most() -> None:
    network = Looping(patience=0.0)
    words = MoonshineDecoder(network).decode(piece(seconds=2.9))
    assert [w.word for w in words] == ["going", "to"]


def test_the_length_limit_holds() -> None:
    class Endless(Looping):
        def step(self, state: list[int], _token: int) -> np.ndarray:
            state[0] += 1
            logp = np.full(6, -9.0, np.float32)
            logp[3 + (state[0] * state[0] // 3) % 3] = -0.1  # no short period
            return logp

    words = MoonshineDecoder(Endless(0.0)).decode(piece(seconds=2.0))
    assert 1 <= len(words) <= 13


# ---------------------------------------------------------------- vosk, with a stand-in for its wheel


class FakeModel:
    known = frozenset({"ten", "mil", "bolt"})

    def __init__(self, path: str) -> None:
        os.write(2, b"ERROR (VoskAPI:Read():file.cc:1) Failed to read token [in it]\n")
        if "broken" in path:
            raise Exception("Failed to create a model")  # what the wheel raises
        if "exit" in path:
            sys.exit(1)

    def vosk_model_find_word(self, word: str) -> int:
        return 5 if word in self.known else -1


class FakeRecognizer:
    grammars: list[str | None]

    def __init__(self, _model: FakeModel, rate: int, grammar: str | None = None) -> None:
        assert rate == 16_000
        type(self).grammars.append(grammar)
        self.heard = 0

    def SetWords(self, on: bool) -> None:  # noqa: N802
        assert on

    def AcceptWaveform(self, data: bytes) -> int:  # noqa: N802
        self.heard += len(data) // 2
        return 0

    def FinalResult(self) -> str:  # noqa: N802
        length = self.heard / 16_000
        words = [("ten", 0.1, 0.3), (UNKNOWN, 0.3, 0.4), ("bolt", 0.5, length + 0.02)]
        return json.dumps(
            {"result": [{"word": w, "start": s, "end": e, "conf": 1.0000002} for w, s, e in words]}
        )


@pytest.fixture
def vosk(monkeypatch: pytest.MonkeyPatch) -> Any:
    module = types.ModuleType("vosk")
    module.Model, module.KaldiRecognizer = FakeModel, FakeRecognizer  # type: ignore[attr-defined]
    module.SetLogLevel = lambda level: None  # type: ignore[attr-defined]
    FakeRecognizer.grammars = []
    monkeypatch.setitem(sys.modules, "vosk", module)
    return module


def folder(tmp_path: Path, name: str = "vosk-model-x", grammar: bool = True) -> Path:
    for part in ("am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst")[: 3 if grammar else 2]:
        (tmp_path / name / part).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name / part).write_bytes(b"x")
    return tmp_path / name


def test_vosk_words_are_on_our_clock_and_inside_the_piece(
    vosk: Any, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    decoder = VoskDecoder(folder(tmp_path))
    first, second = decoder.decode(piece())
    assert (first.word, round(first.start, 3), round(first.end, 3)) == ("ten", 10.1, 10.3)
    assert (second.end, second.conf) == (11.0, 1.0)
    assert decoder.name == "vosk/vosk-model-x"
    assert capfd.readouterr().err == ""  # the library's log stays off the terminal


@pytest.mark.parametrize("name", ["broken", "exit"])
def test_vosk_load_failures_are_coded_with_the_librarys_reason(vosk: Any, tmp_path: Path, name: str) -> None:
    with pytest.raises(NarratorError, match=r"E205.*Failed to read token") as caught:
        VoskDecoder(folder(tmp_path, name))
    assert caught.value.code == "E205"


def test_a_grammar_with_unknown_words_is_refused_or_reported(vosk: Any, tmp_path: Path) -> None:
    decoder = VoskDecoder(folder(tmp_path))
    with pytest.raises(NarratorError, match=r"E206.*: torx"):
        decoder.set_grammar(["ten mil bolt", "torx bolt"])
    assert decoder.set_grammar(["ten mil bolt", "torx bolt", UNKNOWN], skip_unknown=True) == ["torx bolt"]
    decoder.decode(piece())
    assert json.loads(FakeRecognizer.grammars[-1] or "") == ["ten mil bolt"]  # this model lacks [unk]
    with pytest.raises(NarratorError, match="E206"):
        decoder.set_grammar(["torx"], skip_unknown=True)
    decoder.set_grammar(None)
    decoder.decode(piece())
    assert FakeRecognizer.grammars[-1] is None


def test_a_fixed_graph_takes_no_grammar(vosk: Any, tmp_path: Path) -> None:
    with pytest.raises(NarratorError, match="E207"):
        VoskDecoder(folder(tmp_path, grammar=False), ["ten"])


def test_vosk_is_found_in_settings_then_among_the_installed(
    vosk: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(NarratorError, match="E204"):
        vosk_engine.open_decoder(Settings(home=tmp_path / "none"))
    folder(tmp_path / "home" / "models", "small")
    large = folder(tmp_path / "home" / "models", "large")
    (large / "am" / "final.mdl").write_bytes(b"x" * 100)
    assert vosk_engine.open_decoder(Settings(home=tmp_path / "home")).name == "vosk/large"
    mine = Settings(home=tmp_path / "home", vosk_model=folder(tmp_path, "mine"))
    assert vosk_engine.open_decoder(mine).name == "vosk/mine"
    with pytest.raises(NarratorError, match="E205"):
        vosk_engine.open_decoder(Settings(home=tmp_path, vosk_model=tmp_path / "nothing"))


def test_vosk_that_is_not_installed_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "vosk", None)
    with pytest.raises(NarratorError, match="E203"):
        vosk_engine.open_decoder(Settings(home=tmp_path))


class FakeWhisper:
    """Stands in for faster-whisper's model: two words, the last one past the end; or a stock phrase."""

    given: ClassVar[dict[str, Any]] = {}
    text = " Ten bolts."
    sure = -0.2

    def __init__(self, folder: str, **options: Any) -> None:
        if folder.endswith("broken"):
            raise RuntimeError("File model.bin is incomplete\nmore")
        FakeWhisper.given = {"folder": folder, **options}

    def transcribe(self, samples: np.ndarray, **options: Any) -> tuple[Any, None]:
        FakeWhisper.given |= options | {"kind": samples.dtype}
        rows = [(" Ten", 0.1, 0.4, 0.9), (" bolts.", 0.4, 9.0, 1.00001), (" ", 1.0, 1.0, 0.1)]
        words = [types.SimpleNamespace(word=w, start=a, end=b, probability=p) for w, a, b, p in rows]
        part = types.SimpleNamespace(text=self.text, avg_logprob=self.sure, words=words)
        return iter([part]), None


@pytest.fixture
def whisper(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    module = types.ModuleType("faster_whisper")
    module.WhisperModel = FakeWhisper  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "faster_whisper", module)
    return whisper_folder(tmp_path, "whisper-x")


def whisper_folder(tmp_path: Path, name: str) -> Path:
    (tmp_path / name).mkdir()
    for part in ("model.bin", "config.json", "tokenizer.json"):
        (tmp_path / name / part).write_bytes(b"x")
    return tmp_path / name


def test_whisper_words_are_on_our_clock_and_inside_the_piece(whisper: Path, tmp_path: Path) -> None:
    (tmp_path / "vocabulary.toml").write_text('[[word]]\nname = "flobber valve"\n')
    decoder = open_decoder(Settings(home=tmp_path), "auto", whisper)
    one, two = decoder.decode(piece())
    assert (one.word, one.start, one.end, one.conf) == ("Ten", 10.1, 10.4, 0.9)
    assert (two.word, two.end, two.conf) == ("bolts.", 11.0, 1.0)
    assert (decoder.name, decoder.timing) == ("whisper/whisper-x", "aligned")
    assert FakeWhisper.given["local_files_only"] and FakeWhisper.given["hotwords"] == "flobber valve"
    assert FakeWhisper.given["kind"] == np.float32


def test_whisper_text_that_nobody_can_have_said_is_refused(
    whisper: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(FakeWhisper, "text", " Thank you for watching.")
    monkeypatch.setattr(FakeWhisper, "sure", -1.5)
    assert open_decoder(Settings(home=tmp_path), "whisper", whisper).decode(piece()) == []


def test_whisper_is_never_let_to_fetch_what_a_folder_lacks(whisper: Path, tmp_path: Path) -> None:
    (whisper / "tokenizer.json").unlink()
    with pytest.raises(NarratorError, match=r"E205.*tokenizer\.json"):
        open_decoder(Settings(home=tmp_path), "whisper", whisper)
    with pytest.raises(NarratorError, match=r"E205.*incomplete"):
        open_decoder(Settings(home=tmp_path), "whisper", whisper_folder(tmp_path, "broken"))
    with pytest.raises(NarratorError, match=r"E204.*whisper_model"):
        open_decoder(Settings(home=tmp_path), "whisper")
    mine = Settings(home=tmp_path, engine="whisper", whisper_model=whisper_folder(tmp_path, "mine"))
    assert open_recognizer(mine).name == "whisper/mine"


def test_whisper_that_is_not_installed_says_so(
    whisper: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "faster_whisper", None)
    with pytest.raises(NarratorError, match="E203"):
        open_decoder(Settings(home=tmp_path), "whisper", whisper)
