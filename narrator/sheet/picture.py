"""The reasoning over time as a drawing (SVG): suspects as lanes, what happened to them as marks.

Shapes, line styles and words carry the meaning; there is no colour to lose in a copier. The drawing names
no font: whoever embeds it sets one. Sizes are in drawing units, 720 to the width of a page.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence

from narrator.sheet.document import Picture
from narrator.sheet.shapes import draw_mark, draw_test, element
from narrator.sheet.timeline import KINDS, Lane, Mark, Timeline
from narrator.sheet.words import OUTCOMES

WIDTH = 720
EDGE = 12
TEXT = 11.0
LETTER = 6.9
"""Width to allow a letter of ``TEXT`` size, on the safe side for the usual sans and serif faces."""

_LINES = {
    "open": {"stroke-width": "1.4", "stroke-dasharray": "6 4"},
    "ruled_out": {"stroke-width": "1.4", "stroke-dasharray": "1 5", "stroke-linecap": "round"},
    "confirmed": {"stroke-width": "4"},
}
_LINE_WORDS = {"open": "open", "ruled_out": "cleared", "confirmed": "confirmed"}


def pictures(line: Timeline) -> list[Picture]:
    """One drawing for each stretch of the timeline; none when nothing was suspected or tested."""
    ranges = line.panels()
    return [_Panel(line, slots, n, len(ranges)).picture() for n, slots in enumerate(ranges, start=1)]


class _Panel:
    """One drawing being made, from the top down."""

    def __init__(self, line: Timeline, slots: range, number: int, of: int) -> None:
        self.line, self.slots, self.number, self.of = line, slots, number, of
        self.step = (WIDTH - 2 * EDGE) / len(slots)
        self.y = 0.0
        self._x = 0.0
        self.root = ET.Element("svg")

    def x(self, slot: int) -> float:
        return EDGE + (slot - self.slots.start + 0.5) * self.step

    def picture(self) -> Picture:
        """This part of the reasoning drawn as SVG, with its title and description."""
        ident = f"reasoning-{self.number}"
        described = self._described()
        title = "Reasoning over time" + (f", part {self.number} of {self.of}" if self.of > 1 else "")
        element(self.root, "title", text=title, id=f"{ident}-title")
        element(self.root, "desc", text=described, id=f"{ident}-desc")
        self._tests()
        for lane in self.line.lanes:
            if any(slot in self.slots for slot, _ in lane.marks):
                self._lane(lane)
        self._times()
        if self.number == self.of:
            self._legend()
        height = round(self.y + 6)
        for name, value in {
            "xmlns": "http://www.w3.org/2000/svg", "viewBox": f"0 0 {WIDTH} {height}", "role": "img",
            "aria-labelledby": f"{ident}-title {ident}-desc", "fill": "#000", "stroke": "none",
            "font-size": f"{TEXT:g}",
        }.items():  # fmt: skip
            self.root.set(name, value)
        return Picture(ET.tostring(self.root, encoding="unicode"), title, described, WIDTH, height)

    def _described(self) -> str:
        """The drawing in words, for those who hear the page."""
        times = self.line.times
        said = [(slot, f"{times[slot]} test {t.id} {OUTCOMES[t.outcome]}") for slot, t in self.line.tests]
        said += [
            (slot, f"{times[slot]} {lane.id} {mark.kind}" + (f" by {mark.test}" if mark.test else ""))
            for lane in self.line.lanes
            for slot, mark in lane.marks
        ]
        return ". ".join(text for slot, text in sorted(said) if slot in self.slots) + "."

    def _tests(self) -> None:
        here = [(slot, test) for slot, test in self.line.tests if slot in self.slots]
        if not here:
            return
        self._head("Tests", "")
        words = []
        for slot, test in here:
            x = self.x(slot)
            group = element(
                self.root,
                "g",
                **{"class": "mark", "data-test": test.id, "data-utterance": str(test.utterance)},
            )
            element(group, "title", text=f"{self.line.times[slot]} {test.id} {OUTCOMES[test.outcome]}")
            element(group, "text", text=test.id, x=x, y=self.y + 30, **{"text-anchor": "middle"})
            draw_test(group, test.outcome, x, self.y + 42)
            words.append((x, OUTCOMES[test.outcome].removeprefix("found ")))
        self._words(words)

    def _lane(self, lane: Lane) -> None:
        self._head(f"{lane.id}  {lane.label}", lane.ended)
        self._line(lane)
        words = []
        for slot, mark in lane.marks:
            if slot in self.slots:
                self._mark(lane, slot, mark)
                words.append((self.x(slot), mark.kind))
        self._words(words)

    def _head(self, label: str, ended: str) -> None:
        element(self.root, "line", x1=0, x2=WIDTH, y1=self.y + 1, y2=self.y + 1, stroke="#000",
                **{"stroke-width": "0.6"})  # fmt: skip
        room = int((WIDTH - 2 * EDGE - len(ended) * LETTER - 20) / (LETTER * 1.18))
        label = label if len(label) <= room else label[: room - 1].rstrip() + "…"
        element(
            self.root, "text", text=label, x=4, y=self.y + 15, **{"font-size": "12.5", "font-weight": "bold"}
        )
        if ended:
            element(self.root, "text", text=ended, x=WIDTH - 4, y=self.y + 15, **{"text-anchor": "end"})

    def _line(self, lane: Lane) -> None:
        status = lane.status_before(self.slots.start)
        x = 0.0
        stops = [(self.x(slot), mark.after) for slot, mark in lane.marks if slot in self.slots and mark.after]
        for to, after in [*stops, (float(WIDTH), None)]:
            if status and to > x:
                element(self.root, "line", x1=x, x2=to, y1=self.y + 42, y2=self.y + 42, stroke="#000",
                        **_LINES[status])  # fmt: skip
            x, status = to, after or status

    def _mark(self, lane: Lane, slot: int, mark: Mark) -> None:
        x = self.x(slot)
        attributes = {"class": "mark", "data-suspect": lane.id, "data-kind": mark.kind,
                      "data-utterance": str(mark.utterance)}  # fmt: skip
        group = element(self.root, "g", **attributes)
        by = f" by {mark.test}" if mark.test else ""
        element(group, "title", text=f"{self.line.times[slot]} {lane.id} {mark.kind}{by}")
        draw_mark(group, mark.kind, x, self.y + 42)
        if mark.test:
            element(group, "text", text=mark.test, x=x, y=self.y + 31, **{"text-anchor": "middle"})

    def _words(self, words: Sequence[tuple[float, str]]) -> None:
        """Set words under their marks, on as many rows as they need, and move on below them."""
        ends: list[float] = []
        for middle, word in words:
            half = len(word) * LETTER / 2
            x = min(max(middle, half + 2), WIDTH - half - 2)
            row = next((n for n, end in enumerate(ends) if end < x - half), len(ends))
            if row == len(ends):
                ends.append(0.0)
            ends[row] = x + half + 3
            element(self.root, "text", text=word, x=x, y=self.y + 62 + 12 * row, **{"text-anchor": "middle"})
        self.y += 58 + 12 * max(1, len(ends))

    def _times(self) -> None:
        element(self.root, "line", x1=0, x2=WIDTH, y1=self.y + 1, y2=self.y + 1, stroke="#000",
                **{"stroke-width": "1.2"})  # fmt: skip
        before = ""
        for slot in self.slots:
            if (time := self.line.times[slot]) != before:
                element(
                    self.root, "text", text=time, x=self.x(slot), y=self.y + 15, **{"text-anchor": "middle"}
                )
            before = time
        self.y += 22

    def _legend(self) -> None:
        """The key of shapes and lines, wrapped to the width."""
        key = element(self.root, "g", **{"class": "key"})
        self.y += 8
        self._x = 14.0
        for kind in KINDS:
            draw_mark(key, kind, *self._key(key, kind, 12))
        for outcome, word in OUTCOMES.items():
            draw_test(key, outcome, *self._key(key, f"test: {word}", 12))
        for status, word in _LINE_WORDS.items():
            x, y = self._key(key, f"{word} meanwhile", 34)
            element(key, "line", x1=x - 6, x2=x + 24, y1=y, y2=y, stroke="#000", **_LINES[status])
        self.y += 16

    def _key(self, key: ET.Element, word: str, after: float) -> tuple[float, float]:
        """Write one word of the key and give the place of the shape before it."""
        width = after + len(word) * LETTER + 16
        if self._x + width > WIDTH:
            self._x = 14.0
            self.y += 20
        x, self._x = self._x, self._x + width
        element(key, "text", text=word, x=x + after, y=self.y + 12)
        return x, self.y + 8
