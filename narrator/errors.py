"""Coded errors: what went wrong, and what to do about it.

``CATALOGUE`` is the single list of codes; docs/errors.md is checked against it by a test. The hundreds
digit names the room: 1 sound files, 2 engines and models, 3 store, 4 utterances and records,
5 sheets and exports, 6 capture, 7 review, 8 training, 9 settings and vocabulary.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Entry:
    """One kind of error: a message template and the remedy, both filled with the same fields."""

    message: str
    remedy: str


CATALOGUE: dict[str, Entry] = {
    "E101": Entry(
        "{path} does not exist or cannot be read", "Check the name and that you may read the file."
    ),
    "E401": Entry(
        "line {line} is not an utterance: {why}",
        'Each line must be a JSON object with "id", "start", "end" and "text"; mend or remove that line.',
    ),
    "E402": Entry(
        "{path} holds no utterances", "Give a file with one JSON object a line (see docs/contract.md)."
    ),
    "E901": Entry("the settings file {path} is not valid: {why}", "Mend that line, or move the file away."),
}


class NarratorError(Exception):
    """An error with a code of ``CATALOGUE``; ``str()`` gives code, message and remedy on two lines."""

    def __init__(self, code: str, **fields: object) -> None:
        entry = CATALOGUE[code]
        self.code = code
        self.message = entry.message.format(**fields)
        self.remedy = entry.remedy.format(**fields)
        super().__init__(f"{code}: {self.message}\n  {self.remedy}")
