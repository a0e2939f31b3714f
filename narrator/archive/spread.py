"""Spreading work over workers with Dask: the only module that knows it (an extra, ``narrator[archive]``).

Work is a function of one value, both of which travel to a worker; only so many are on their way at a time,
so that memory does not grow with the archive. What a lost worker had is done again by another. Results come
in the order of the values, whoever was quicker, so that whatever is made of them is the same as without
workers.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TypeVar

from narrator.errors import NarratorError
from narrator.rules import rules_version

AHEAD = 4
"""Values on their way for each worker."""

Value = TypeVar("Value")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Workers:
    """Who works: ``count`` processes of this machine, or those of the scheduler at ``scheduler``
    (``tcp://192.168.1.20:8786``); neither: this process."""

    count: int = 0
    scheduler: str = ""


def spread(
    function: Callable[[Value], Result],
    values: Iterable[Value],
    workers: Workers,
    name: Callable[[Value], str] = str,
) -> Iterator[Result]:
    """The results of ``function`` for each value, in their order. ``name`` tells a value in an error.

    Raises:
        NarratorError: E801 without Dask, E820 when the scheduler cannot be reached or has no workers, E821
            when workers have other rules than we, E822 when a value ended one worker after the other; and
            what ``function`` raises.
    """
    if not workers.count and not workers.scheduler:
        yield from map(function, values)
        return
    with _client(workers) as client:
        room = AHEAD * max(1, len(client.nthreads()))
        waiting: deque[tuple[Value, Any]] = deque()
        for value in values:
            waiting.append((value, client.submit(function, value, pure=False)))
            if len(waiting) >= room:
                yield _result(*waiting.popleft(), name)
        while waiting:
            yield _result(*waiting.popleft(), name)


def _result(value: Any, future: Any, name: Callable[[Any], str]) -> Any:
    try:
        return future.result()
    except Exception as error:
        if type(error).__name__ in ("KilledWorker", "CancelledError", "FutureCancelledError"):
            raise NarratorError("E822", what=name(value), why=type(error).__name__) from error
        raise


@contextmanager
def _client(workers: Workers) -> Iterator[Any]:
    try:
        import distributed  # noqa: PLC0415 - an extra
    except ImportError as error:
        raise NarratorError("E801", library="dask", extra="archive") from error
    dask: Any = distributed  # it has no types
    if workers.scheduler:
        try:
            client = dask.Client(workers.scheduler, timeout=10, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise NarratorError("E820", address=workers.scheduler, why=error) from error
        with client:
            _check(client, workers.scheduler)
            yield client
        return
    with (
        dask.LocalCluster(
            n_workers=workers.count,
            threads_per_worker=1,  # a recognizer and a pipeline each are one thread's
            host="127.0.0.1",
            dashboard_address=None,
            # Its health pages are served even so, on port 8787, which only one of us can have.
            scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},
            silence_logs=logging.CRITICAL,
        ) as cluster,
        dask.Client(cluster, set_as_default=False) as client,
    ):
        _check(client, "this machine")
        yield client


def _check(client: Any, address: str) -> None:
    """Workers with other rules would make other bytes."""
    found = client.run(rules_version)
    if not found:
        raise NarratorError("E820", address=address, why="it has no workers")
    ours = rules_version()
    if other := sorted({rules for rules in found.values() if rules != ours}):
        raise NarratorError("E821", other=", ".join(other), ours=ours)
