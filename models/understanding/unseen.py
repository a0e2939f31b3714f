"""Reading a job with a network that has not learned it.

Several small models go by what the act network makes of a job's words. A job that it has learned makes it
seem surer than it will be of a new one, so that they learn from networks made without that job:

    python -m models.understanding.network.train FILE --encoder SMALLER LARGER --unseen FOLDER

writes one for each fold of the files, and the trainings take the folder as ``--networks FOLDER``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from models.understanding.folds import FOLDS, fold_of, network_file
from narrator.language import act_network
from narrator.language.act_network import Network

Found = TypeVar("Found")


class Unseen:
    """The networks of a folder; without a folder the one that is shipped reads every job.

    Raises:
        FileNotFoundError: where the network of a fold is missing.
    """

    def __init__(self, folder: Path | None = None) -> None:
        folds = range(FOLDS) if folder else ()
        self._networks = [Network(network_file(folder, n)) for n in folds if folder]

    def each(self, names: Iterable[str], work: Callable[[str], Iterable[Found]]) -> Iterator[Found]:
        """What ``work`` makes of each of the jobs, read with a network that has not learned it."""
        for name in names:
            with self.reading(name):
                yield from list(work(name))

    @contextmanager
    def reading(self, name: str) -> Iterator[None]:
        """Put the network that has not learned this job in force."""
        if not self._networks:
            yield
            return
        network, before = self._networks[fold_of(name)], act_network._loaded
        act_network._loaded = lambda folder: network  # type: ignore[assignment]
        try:
            yield
        finally:
            act_network._loaded = before
