"""Showing text on a terminal: times as a clock, and nothing that could steer the terminal itself."""

from __future__ import annotations

import sys

from rich.console import Console
from rich.text import Text

from narrator.store.rows import HIT_END, HIT_START

_WIDE = 200
_CONTROL = dict.fromkeys((*range(32), *range(127, 160)), " ")


def console() -> Console:
    """Standard output; wide when it is not a terminal, so that lines are not cut for the next program."""
    return Console(file=sys.stdout, highlight=False, width=None if sys.stdout.isatty() else _WIDE)


def plain(text: object) -> str:
    """Text without control characters: what was heard or typed must not move the cursor or change colours."""
    return str(text).translate(_CONTROL)


def clock(seconds: float) -> str:
    """``7:05`` or ``1:02:03``."""
    whole = max(0, int(seconds))
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02}:{rest % 60:02}" if hours else f"{rest // 60}:{rest % 60:02}"


def with_hits(line: str) -> Text:
    """A line found by a search, what matched in bold."""
    shown = Text()
    for number, piece in enumerate(line.split(HIT_START)):
        hit, mark, rest = piece.partition(HIT_END)
        if number and mark:
            shown.append(plain(hit), style="bold underline")
            shown.append(plain(rest))
        else:
            shown.append(plain(piece))
    return shown
