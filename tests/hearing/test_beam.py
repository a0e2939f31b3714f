"""The beam over a network of four tokens that hears two texts nearly alike."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from narrator.hearing import beam
from narrator.hearing.beam import Steering, best_texts, share
from narrator.hearing.language_model import LanguageModel

TOKENS = [b"", b"<s>", b"</s>", b" bolts", b" boats", b"-"]
MODEL = "-1.0\tbolts\n-4.0\tboats\n-1.0\t</s>\n-99\t<s>\n"


class Network:
    """Says one word, *boats* a little likelier than *bolts*, then ends."""

    tokens = TOKENS

    def encode(self, samples: NDArray[np.float32]) -> Any:
        return None

    def step(self, state: Any, token: int) -> NDArray[np.float32]:
        return self.step_many(state, [token], [0])[0]

    def step_many(self, state: Any, tokens: list[int], parents: list[int]) -> NDArray[np.float32]:
        first = [1e-6, 1e-6, 1e-4, 0.45, 0.549, 1e-6]
        after = [1e-6, 1e-6, 0.98, 1e-3, 1e-3, 1e-3]
        return np.log(np.array([first if t == 1 else after for t in tokens], np.float32))


@pytest.fixture
def language(tmp_path: Path) -> LanguageModel:
    path = tmp_path / "model.arpa"
    path.write_text(MODEL)
    return LanguageModel(path)


def heard(language: LanguageModel, weight: float) -> list[bytes]:
    texts = best_texts(Network(), np.zeros(16_000, np.float32), 6, Steering(language, weight), lambda d: d)
    assert share(texts) == sorted(share(texts), reverse=True)
    assert sum(share(texts)) == pytest.approx(1)
    return [b"".join(TOKENS[i] for i in text.ids) for text in texts]


def test_without_weight_the_networks_own_choice_comes_first(language: LanguageModel) -> None:
    assert heard(language, 0.0)[:2] == [b" boats", b" bolts"]


def test_the_language_model_turns_a_near_miss(language: LanguageModel) -> None:
    assert heard(language, 0.2)[0] == b" bolts"


class Longer(Network):
    """Says two words, each *boats* a little likelier, then ends."""

    def encode(self, samples: NDArray[np.float32]) -> Any:
        return []

    def step_many(self, state: Any, tokens: list[int], parents: list[int]) -> NDArray[np.float32]:
        state.append(len(tokens))
        lines = [0.45, 0.549] if len(state) < 3 else [1e-3, 1e-3]
        end = 1e-4 if len(state) < 3 else 0.98
        return np.log(np.array([[1e-6, 1e-6, end, *lines, 1e-6]] * len(tokens), np.float32))


def test_the_networks_own_choice_stays_among_the_texts(
    language: LanguageModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(beam, "BEAM", 2)
    texts = best_texts(Longer(), np.zeros(16_000, np.float32), 6, Steering(language, 1.0), lambda d: d)
    found = [b"".join(TOKENS[i] for i in text.ids) for text in texts]
    assert found == [b" bolts bolts", b" bolts boats", b" boats boats"]
