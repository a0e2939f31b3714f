"""The fourth thread: sealed segments are packed and entered among the facts, in no hurry."""

from __future__ import annotations

import queue
from collections.abc import Callable

from narrator.errors import NarratorError
from narrator.hearing.archive import pack
from narrator.hearing.tape import Sealed
from narrator.live.job import Job
from narrator.store import Writer
from narrator.store.rows import Sound
from narrator.values import SAMPLE_RATE


class Archiving:
    """Packs until None comes. What cannot be packed stays raw; the next start tries again.

    The id of a session comes here too, to be forgotten: after its sound, so that nobody packs what goes.
    """

    def __init__(self, writer: Writer, told: Callable[[str, bool], None]) -> None:
        self._writer, self._told = writer, told
        self.inbox: queue.Queue[tuple[Job, Sealed] | str | None] = queue.Queue()

    def run(self) -> None:
        """Work until None comes."""
        while (item := self.inbox.get()) is not None:
            try:
                if isinstance(item, str):
                    self._writer.forget(item)
                    continue
                job, segment = item
                packed = pack(job.folder, segment)
                self._writer.add_sound(
                    job.session, Sound(packed.file.name, segment.first / SAMPLE_RATE, packed.sha256)
                )
            except NarratorError as error:
                if error.code != "E305":  # forgotten meanwhile
                    self._told(error.message, True)
            except OSError as error:
                self._told(f"sound stays unpacked: {error.strerror or error}", True)
