"""The ledger's totals as the model settles them; trees are given here, so no training changes the tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from narrator.job import balance
from narrator.job.compile import compile_record
from narrator.job.record import Record
from narrator.job.trees import Trees
from narrator.language.reader import Reader
from narrator.values import Utterance

OFF_ON = -18, -17
"""Where a row of features has the totals of its outcome."""
TOLD = ("four ten mil bolts out of the cover", "cover back on with three of them", "starts up dry as a bone")


class Even:
    """Trees that hold for likeliest what comes out even, with as many as came off as the rules heard."""

    def odds(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Log odds of each row."""
        off, on = rows[:, OFF_ON[0]], rows[:, OFF_ON[1]]
        return np.where((off == on) & (off == rows[:, 0]), 5.0, -5.0)


def record(lines: Sequence[str], checked: bool = True) -> Record:
    """The record of some lines, the last of them a check of the repair."""
    told = list(Reader().read(Utterance(n, n, n + 1.0, text) for n, text in enumerate(lines, 1)))
    last = told[-1]
    acts = ("verification",) if checked else ("observation",)
    return compile_record([*told[:-1], replace(last, acts=acts)])


def totals(found: Record) -> list[tuple[int, int]]:
    """Off and on of each row."""
    return [(row.removed, row.installed) for row in found.fasteners]


def test_what_comes_out_even_is_taken_where_the_model_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(balance, "_model", Even)
    assert totals(record(TOLD)) == [(4, 4)]


def test_nothing_is_settled_before_the_repair_was_checked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(balance, "_model", Even)
    assert totals(record(TOLD, checked=False)) == [(4, 3)]


@pytest.mark.parametrize(("off", "even"), [(0.9, False), (0.1, True)])
def test_what_hardly_came_off_does_not_keep_a_checked_repair_open(
    off: float, even: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(balance, "_model", Even)
    lines = (*TOLD, "four eight mil bolts out of the tray")
    *told, check, last = Reader().read(Utterance(n, n, n + 1.0, text) for n, text in enumerate(lines, 1))
    check = replace(check, acts=("verification",))
    last = replace(last, acts=("step",), moves=((off, 0.0),) * len(last.tokens))
    cover = compile_record([*told, check, last]).fasteners[0]
    assert (cover.removed, cover.installed) == ((4, 4) if even else (4, 3))


def test_totals_taken_otherwise_than_heard_ask_for_a_look(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(balance, "_model", Even)
    (look,) = [one for one in record(TOLD).looks if one.kind == "evened"]
    assert look.reason == "10 mm bolt: 4 off and 3 on were heard, 4 off and 4 on are likelier"
    assert look.utterance == 2
    monkeypatch.setattr(balance, "_model", lambda: None)
    assert not [one for one in record(TOLD).looks if one.kind == "evened"]


def test_what_was_not_heard_to_go_back_stays_an_open_item(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(balance, "_model", Even)
    assert any("1 of 4 10 mm bolt" in item.text for item in record(TOLD).open_items)


def test_without_a_model_totals_are_as_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(balance, "_model", lambda: None)
    assert totals(record(TOLD)) == [(4, 3)]


def test_a_count_told_plainly_stands_with_the_trees_as_shipped() -> None:
    lines = [
        "four ten mil bolts out of the cover",
        "cover back on with only three of them the fourth one snapped and is lost",
        "starts up dry as a bone",
    ]
    assert totals(record(lines)) == [(4, 3)]


def test_trees_go_down_to_their_leaves(tmp_path: Path) -> None:
    # one tree: feature 1 <= 0.5 gives -1, else feature 0 <= 2 gives 1, else 3
    np.savez(
        tmp_path / "trees.npz",
        feature=np.array([[1, 0, 0, 0, 0]]),
        threshold=np.array([[0.5, 0.0, 2.0, 0.0, 0.0]]),
        low=np.array([[1, 1, 3, 3, 4]]),
        high=np.array([[2, 1, 4, 3, 4]]),
        value=np.array([[0.0, -1.0, 0.0, 1.0, 3.0]]),
        deep=2,
    )
    rows = np.array([[9.0, 0.0], [2.0, 1.0], [2.5, 1.0]])
    assert Trees(tmp_path / "trees.npz").odds(rows).tolist() == [-1.0, 1.0, 3.0]


def test_trees_far_down_are_gone_to_the_end(tmp_path: Path) -> None:
    # one tree whose node n sends what is above n on to the next, and the rest to a leaf of its own
    deep = 12
    inner, leaves = np.arange(deep), np.arange(deep, 2 * deep + 1)
    np.savez(
        tmp_path / "trees.npz",
        feature=np.zeros((1, 2 * deep + 1), np.int64),
        threshold=np.concatenate((inner, np.zeros(deep + 1)))[None, :],
        low=np.concatenate((deep + inner, leaves))[None, :],
        high=np.concatenate((inner[1:], leaves[-1:], leaves))[None, :],
        value=np.arange(-deep, deep + 1.0)[None, :],
        deep=deep,
    )
    rows = np.arange(deep + 1.0)[:, None]
    assert Trees(tmp_path / "trees.npz").odds(rows).tolist() == rows[:, 0].tolist()
