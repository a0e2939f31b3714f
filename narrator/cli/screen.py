"""The live screen: the state large enough to read from three metres, and what was understood below it."""

from __future__ import annotations

import pyfiglet
from rich.align import Align
from rich.console import Console, ConsoleOptions, Group, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from narrator.cli.microphones import bar
from narrator.cli.terminal import clock, plain
from narrator.live.view import State, View

_STYLE: dict[State, str] = {
    "starting": "black on white",
    "listening": "black on green",
    "paused": "black on yellow",
    "trouble": "bold white on red",
    "stopping": "black on white",
}
"""Never colour alone: the word stands in it."""
_FONTS = ("banner3", "5x7")
"""Large, and narrower for a narrow screen; both draw their letters with one sign."""


class Screen:
    """A rich renderable of one view, fitted to the console it is drawn on."""

    def __init__(self, view: View) -> None:
        self._view = view

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        height = options.height or console.height
        yield Group(
            big(self._view, options.max_width, height),
            _status(self._view),
            *_lines(self._view, max(1, height - 15)),
            _ledgers(self._view),
        )


def big(view: View, width: int, height: int = 24) -> Padding:
    """The state in letters as large as fit, on a band of its colour over the whole width."""
    word, style = view.state.upper(), _STYLE[view.state]
    drawn = [_drawn(word, font) for font in _FONTS] if height >= 16 else []
    fitting = [text for text in drawn if max(map(len, text.splitlines())) <= width]
    text = Text(fitting[0] if fitting else word, style=style, no_wrap=True, overflow="crop")
    return Padding(Align.center(text, style=style), (1, 0), style=style, expand=True)


def _drawn(word: str, font: str) -> str:
    """The word in full blocks, two columns between letters: seen from further away than signs are."""
    letters = []
    for letter in word:
        lines = pyfiglet.figlet_format(letter, font=font).splitlines()
        rows = [line for line in lines if line.strip()]
        left = min(len(row) - len(row.lstrip()) for row in rows)
        right = max(len(row.rstrip()) for row in rows)
        letters.append([row[left:right].ljust(right - left) for row in rows])
    joined = ["  ".join(parts) for parts in zip(*letters, strict=True)]
    return "\n".join("".join(" " if c == " " else "█" for c in line) for line in joined)


def _status(view: View) -> Text:
    text = Text(no_wrap=True, overflow="ellipsis")
    text.append(f" {'REC ' if view.kept else 'not recording '}", "bold red" if view.kept else "bold")
    text.append(f"{clock(view.seconds)}  {bar(view.level, 20)}  ")
    if view.level.dead:
        text.append("NO SOUND: muted?  ", "bold red")
    if view.minutes_left is not None:
        style = "bold red" if view.minutes_left < 60 else ""
        text.append(f"disk {clock(view.minutes_left * 60)[:-3]} h  " if view.minutes_left >= 60
                    else f"disk {view.minutes_left:.0f} min  ", style)  # fmt: skip
    if view.behind > 5:
        text.append(f"text {view.behind:.0f} s behind  ", "bold")
    if view.gaps:
        text.append(f"gaps {view.gaps}  ")
    text.append(plain(view.microphone)[:24])
    return text


def _lines(view: View, room: int) -> list[Text]:
    """The vehicle, what was understood last, what is being said, and what the session asks or tells."""
    shown: list[Text] = [Text(f" {plain(view.vehicle)}", "bold")] if view.vehicle else []
    for line in view.understanding.lines[-max(1, room - 4) :]:
        shown.append(Text(f"  {plain(line)}", overflow="ellipsis", no_wrap=True))
    shown.append(Text(f"  … {plain(view.partial)}" if view.partial else "", "italic", no_wrap=True))
    if view.question:
        shown.append(Text(f" ? {plain(view.question)}", "bold reverse"))
    elif view.message:
        shown.append(Text(f" ! {plain(view.message)}", "bold"))
    return shown


def _ledgers(view: View) -> Table:
    table = Table(box=None, expand=True, pad_edge=True)
    now = view.understanding
    for title, rows in (("Suspects open", now.suspects), ("Fasteners off", now.off)):
        table.add_column(f"{title} ({len(rows)})", ratio=1, no_wrap=True, overflow="ellipsis")
    for left, right in zip(_column(now.suspects), _column(now.off), strict=True):
        table.add_row(left, right)
    return table


def _column(rows: tuple[str, ...], most: int = 4) -> list[str]:
    """The last rows, filled up to ``most``."""
    kept = [plain(row) for row in rows[-most:]]
    return kept + [""] * (most - len(kept))
