"""What the network makes of a test's words: pictures and states that no list holds."""

from __future__ import annotations

import numpy as np
import pytest

from narrator.job.line import Line
from narrator.job.outcome_network import OutcomeNetwork, outcome_network
from tests.job.test_outcome import understood


def _odds(*said: str, after: tuple[str, ...] = ()) -> float:
    network = outcome_network()
    assert network is not None
    lines = [Line(one) for one in understood(*(("result", text) for text in said))]
    return network.odds(lines, [Line(one) for one in understood(*(("step", text) for text in after))])


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ("spins like a top", "grinds like a pepper mill"),
        ("dry as a biscuit underneath", "wet as a dishcloth underneath"),
        ("clean enough to eat off", "black as tar and full of grit"),
        ("it clicks home like a good door", "it rattles about in there"),
    ],
)
def test_pictures_of_good_and_bad(good, bad):
    assert _odds(good) > _odds(bad)


def test_what_is_drawn_from_a_test_tells_of_it():
    said = "the needle sits at three"
    assert _odds(said, after=("so the pump is fine",)) > _odds(said, after=("there it is the pump is dead",))


def test_words_never_seen_and_empty_lines_are_no_trouble():
    assert np.isfinite(_odds("zzqx vrrmp")) and np.isfinite(_odds("gauge on the pump", "7.25 bar"))


def test_it_reads_alike_from_its_file(tmp_path):
    """A network of one word and weights of one: what comes out can be worked out by hand."""
    one = np.ones
    np.savez(
        tmp_path / "network.npz", words=np.array("0\ngood"), scale=one(3), rows=np.array([[0], [0], [2]]),
        near=one((3, 1, 2)), wide=one((5, 2, 2)), even=one(2), hid=one((16, 1)), out=one((1, 1)),
        **{f"{name}.bias": np.zeros(n) for name, n in (("near", 2), ("wide", 2), ("hid", 1), ("out", 1))},
        **{"even.bias": np.array([1.0, 2.0])},
    )  # fmt: skip
    network = OutcomeNetwork(tmp_path / "network.npz")
    line = Line(understood(("result", "good"))[0])
    assert network.odds([line], []) == pytest.approx(6.0)  # mean 1 and 2, maximum 1 and 2
    assert network.odds([line, line], [line, line]) == pytest.approx(24.0)
