"""Commands that were said before a crash and not carried out, or not even heard: the next start does them."""

from __future__ import annotations

from narrator.hearing.control import SpokenControl
from narrator.live.deeds import Deeds
from narrator.session import COMMAND
from narrator.store import Writer
from narrator.store.rows import Facts, Mark, wall_time
from narrator.values import Utterance

_UNJUDGED = 5
"""So many of the last utterances may have been kept without having been looked at for commands."""


class Afterwards:
    """Takes a broken session's utterances again, in order, those that had been kept first.

    What had been done is left as it is. Corrections, strikes and marks are made; a job cannot begin in the
    middle of a recorded one any more, so that the moment is marked.
    """

    def __init__(self, writer: Writer, facts: Facts, control: SpokenControl) -> None:
        self._writer, self._control, self._session = writer, control, facts.session.id
        self._at = 0.0
        self._deeds = Deeds(writer, self._session, self, answered=lambda name: "", wall=wall_time)
        done = {one.utterance for one in facts.strikes}
        done |= {one.utterance for one in facts.corrections if (one.reason or "").startswith(COMMAND)}
        struck = {one.utterance: one.struck for one in facts.strikes}
        wording = {one.utterance: one.text for one in facts.corrections}
        for one in facts.utterances[:-_UNJUDGED]:
            if not struck.get(one.id):
                self._deeds.narrated(one, wording.get(one.id))
        for one in facts.utterances[-_UNJUDGED:]:
            if one.id not in done:
                self.take(one, wording.get(one.id))
            elif not struck.get(one.id):
                self._deeds.narrated(one, wording.get(one.id))

    def take(self, utterance: Utterance, wording: str | None = None) -> None:
        """A command is carried out, everything else is the next remark."""
        self._at = utterance.start
        command = self._control.take(utterance, asked=self._deeds.asks(utterance.start))
        if command is None or command.name == "not_understood":
            self._deeds.narrated(utterance, wording)
        else:
            self._deeds.do(command, utterance)

    # ------------------------------------------------------------ what cannot be done any more

    def pause(self) -> None:
        """See ``Listening``: what was recorded after it was kept."""

    def go_on(self) -> None:
        """See ``Listening``."""

    def next_job(self, vehicle: str | None) -> None:
        """See ``Listening``."""
        text = f"another job begins: {vehicle}" if vehicle else "the job ends"
        self._writer.add_mark(self._session, Mark(self._at, "spoken", text))
