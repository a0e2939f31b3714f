"""The child process of ``understander``: questions come on standard input, a line each; so do the answers."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from narrator.errors import NarratorError
from narrator.live.understander import Here


def main() -> None:
    """Answer for the home named by the argument until the questions end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent ends us by closing the pipe
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what a library prints must not get among the answers
    here = Here(Path(sys.argv[1]))
    with contextlib.suppress(NarratorError):  # whoever asks is told
        here.prepare()
    for line in sys.stdin:
        answers.write(json.dumps(answered(here, json.loads(line))) + "\n")
        answers.flush()


def answered(here: Here, question: dict[str, Any]) -> dict[str, Any]:
    """The answer to one question, or the error that it met."""
    try:
        if "name" in question:
            return {"answer": here.answer(question["session"], question["name"], "")}
        return asdict(here.show(question["session"], question["upto"]))
    except NarratorError as error:
        return {"code": error.code, "why": error.message}


if __name__ == "__main__":
    try:
        main()
    except BrokenPipeError:  # the parent died
        os._exit(1)
