"""Jobs are read with a network that has not learned them; the talk is our own, invented."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from models.understanding.corpus import narrations, strips
from models.understanding.folds import FOLDS, fold_of, network_file
from models.understanding.unseen import Unseen
from narrator.language.act_model import act_model
from narrator.language.act_network import FOLDER, act_network


@pytest.fixture(scope="module")
def unseen(tmp_path_factory: pytest.TempPathFactory) -> Unseen:
    folder = tmp_path_factory.mktemp("networks")
    for fold in range(FOLDS):
        shutil.copy(FOLDER / "network.npz", network_file(folder, fold))
    return Unseen(folder)


def test_every_fold_has_its_share_and_a_file_is_of_one_fold() -> None:
    dealt = [fold_of(talk.name) for talk in (*narrations(), *strips())]
    assert all(dealt.count(fold) > len(dealt) / 6 for fold in range(FOLDS))
    assert fold_of("y01.1") == fold_of("y01.30") == fold_of("y01")


def test_a_job_is_read_with_the_network_of_its_fold(unseen: Unseen) -> None:
    model = act_model()
    assert model is not None
    shipped, asked = act_network(), {}
    for name in ("a01", "a02", "b03", "c04", "e05"):
        with unseen.reading(name):
            assert model.network is act_network() is not shipped
            asked.setdefault(fold_of(name), set()).add(id(act_network()))
    assert act_network() is shipped
    assert len(asked) > 1 and all(len(networks) == 1 for networks in asked.values())
    assert len(set.union(*asked.values())) == len(asked)


def test_the_network_shipped_is_back_after_a_failure(unseen: Unseen) -> None:
    def fails(name: str) -> list[int]:
        raise ValueError(name)

    shipped = act_network()
    with pytest.raises(ValueError, match="a01"):
        list(unseen.each(["a01"], fails))
    assert act_network() is shipped


def test_without_a_folder_the_network_shipped_reads(tmp_path: Path) -> None:
    shipped = act_network()
    assert list(Unseen().each(["a01", "a02"], lambda name: [act_network() is shipped])) == [True, True]
    with pytest.raises(FileNotFoundError):
        Unseen(tmp_path)
