"""Options of the commands that can spread their work over many workers."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import click

from narrator.archive.spread import Workers
from narrator.errors import NarratorError


def spreading(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--workers`` and ``--scheduler``; the command gets them as ``workers``."""

    @click.option(
        "--workers", "count", type=click.IntRange(0), default=0, metavar="N",
        help="Spread the work over N processes of this machine (narrator[archive]).",
    )  # fmt: skip
    @click.option(
        "--scheduler", default="", metavar="ADDRESS",
        help="Spread it over the workers of this Dask scheduler (tcp://192.168.1.20:8786).",
    )  # fmt: skip
    @functools.wraps(function)
    def wrapped(*args: Any, count: int, scheduler: str, **kwargs: Any) -> Any:
        if count and scheduler:
            raise NarratorError("E824")
        return function(*args, workers=Workers(count, scheduler), **kwargs)

    return wrapped
