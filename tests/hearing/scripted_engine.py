"""An engine process for tests: says how long each piece is; dies, hangs or fails where it is told to."""

from __future__ import annotations

import os
import sys
import time

from narrator.hearing.apart_main import _answer, serve
from narrator.hearing.segmenter import Segment
from narrator.values import Word


class Scripted:
    name = "scripted"
    timing = "aligned"

    def __init__(self, script: str) -> None:
        self.script = script
        if script == "two ears":
            self.first = Scripted("works")
            self.first.name, self.first.timing = "one", "estimated"

    def decode(self, segment: Segment) -> list[Word]:
        if self.script == "dies":
            os._exit(7)
        if self.script == "hangs":
            time.sleep(60)
        if self.script == "fails":
            raise ValueError("no such state")
        heard = f"{segment.voiced.sum()}of{len(segment.samples)}"
        return [Word(heard, segment.start, segment.end, 0.5, "other", last=self.script == "ends")]


if __name__ == "__main__":
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    if sys.argv[1] == "missing":
        _answer(answers, {"failed": "there is no model"})
    else:
        _answer(answers, {"name": "scripted", "timing": "aligned"})
        serve(Scripted(sys.argv[1]), sys.stdin.buffer, answers)
