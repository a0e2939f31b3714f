"""The seam of spoken control: who finds a command in what was said, and what a command is.

The finder only says what was asked for. The live session carries it out, asks back before anything that is
destructive, and keeps the utterance in the facts whatever becomes of it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from narrator.values import Utterance

Name = Literal[
    "begin_job", "end_job", "pause", "go_on", "strike_last", "correct", "mark",
    "last_reading", "last_torque", "summary", "still_open", "open_fasteners", "help",
    "yes", "no", "attention", "not_understood",
]  # fmt: skip
"""What can be asked for. ``yes`` and ``no`` answer a question of the session's; ``attention`` is the
attention phrase alone, ``not_understood`` the phrase and then no command: that stays narration."""

DESTRUCTIVE: frozenset[Name] = frozenset({"strike_last", "end_job"})
"""These are confirmed before they are done; nothing else is."""

Sound = Callable[[], NDArray[np.float32]]
"""Gives the utterance's sound (16 kHz mono) with ``AROUND_S`` around it when it is wanted, from the tape."""

AROUND_S = 0.25
"""So much sound before and after an utterance is to be heard with it: in noise the detector of speech misses
its first and last sounds."""
SURE, SURE_UNBORNE, SURE_ALONE = 0.75, 0.97, 0.90
"""How sure an ear of commands must be to be believed: where the dictation or what the second ear heard freely
has something like the attention phrase, where neither has (no free words may follow then), where there is no
dictated text (chosen by measurement, docs/measurements/faults.md)."""
SURE_CALLED = 0.32
"""How sure where the dictation has the attention phrase itself and then no command: one was called for. No
free words may follow the one that is taken."""
SURE_SECONDED, SURE_SECONDED_FREE = 0.32, 0.40
"""How sure where the dictation has something like the attention phrase and then that very command, and where
free words may follow that."""


@dataclass(frozen=True, slots=True)
class Command:
    """One thing asked for.

    ``text`` is what belongs to it: the vehicle of ``begin_job``, the new value of ``correct``, the label of
    ``mark``. ``narration`` is what else was said in the same utterance, before the attention phrase.
    """

    name: Name
    text: str = ""
    narration: str = ""


class SpokenControl(Protocol):
    """Finds commands in utterances, one after the other."""

    def take(
        self, utterance: Utterance, sound: Sound | None = None, *, asked: bool = False
    ) -> Command | None:
        """The command in this utterance, or None when it is narration.

        While ``asked``, the session waits for an answer: a bare yes or no counts, without attention phrase.
        """
        ...

    def may_call(self, text: str) -> bool:
        """Whether a command may be in this text of a piece of sound, so that it is not to be parted."""
        ...


class NoControl:
    """No spoken control: everything said is narration."""

    def take(
        self, utterance: Utterance, sound: Sound | None = None, *, asked: bool = False
    ) -> Command | None:
        """See ``SpokenControl``."""
        return None

    def may_call(self, text: str) -> bool:
        """See ``SpokenControl``."""
        return False
