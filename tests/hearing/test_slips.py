from __future__ import annotations

import numpy as np
import pytest

from narrator.hearing.segmenter import Segment
from narrator.hearing.slips import loop_start, plausible
from narrator.hearing.voice import FRAME


def piece(seconds: float) -> Segment:
    count = int(seconds * 50)
    return Segment(0, np.zeros(count * FRAME, np.float32), np.ones(count, bool))


def test_a_loop_is_found_after_its_first_round() -> None:
    assert loop_start([9, 8, 1, 2, 3, 1, 2, 3, 1, 2, 3]) == 5
    assert loop_start([9, *[4] * 8]) == 2


@pytest.mark.parametrize("ids", [[], [1, 2, 3], [5] * 7, [1, 2, 1, 2, 1, 2, 1, 2], [1, 2, 3, 1, 2, 3]])
def test_what_people_repeat_is_no_loop(ids: list[int]) -> None:
    assert loop_start(ids) is None


def test_stock_phrases_are_noise_unless_the_model_is_sure() -> None:
    assert not plausible("Thank you for watching!", -0.5, piece(8))
    assert not plausible("You", -0.5, piece(0.5))
    assert plausible("You", -0.1, piece(0.5))
    assert plausible("You check it", -0.5, piece(1))


def test_too_little_or_too_much_text_for_the_time_is_noise() -> None:
    assert not plausible("So", -0.6, piece(10))
    assert not plausible("You can also use the application", -0.6, piece(0.08))
    assert plausible("Two ten mil bolts are out", -0.6, piece(1.2))


def test_foreign_letters_and_empty_text_are_noise() -> None:
    assert not plausible("2-3 ตวบนลางวดโอ", -0.1, piece(3))
    assert not plausible("...", -0.1, piece(3))
    assert plausible("The café door", -0.1, piece(2))
