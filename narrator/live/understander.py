"""Understanding the job so far, for the screen and for spoken questions.

A whole job is read again each time. Done in this process it would hold up the ears (one interpreter runs one
thread at a time) and leave it as large as its largest moment, which grows with the job; so while listening
it is done in a process of its own, with an allocator that gives memory back.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

from narrator.errors import NarratorError
from narrator.hearing.control import Name
from narrator.job.compile import compile_record
from narrator.job.record import Record
from narrator.language import Reader as LanguageReader
from narrator.live.answers import answer, understanding
from narrator.live.memory import give_back, settle
from narrator.live.view import Understanding
from narrator.session import compile_facts
from narrator.store import Reader
from narrator.values import Utterance

_PATIENCE_S = 120.0


class Understander(Protocol):
    """Reads a job of the store.

    Raises:
        NarratorError: E305 when the job was forgotten meanwhile; E606 when the process fails.
    """

    def prepare(self) -> None:
        """Load what is needed."""
        ...

    def show(self, session: str, upto: int) -> Understanding:
        """What the screen shows of it, utterances after number ``upto`` left out."""
        ...

    def answer(self, session: str, name: Name, help_text: str) -> str:
        """The answer to a spoken question."""
        ...

    def close(self) -> None:
        """No more is wanted."""
        ...


class Here:
    """In this process."""

    def __init__(self, home: Path) -> None:
        self._home = home

    def prepare(self) -> None:
        """See ``Understander``."""
        compile_record(LanguageReader().read([Utterance(1, 0.0, 1.0, "the ground strap is loose")]))
        settle()

    def show(self, session: str, upto: int) -> Understanding:
        """See ``Understander``."""
        shown = understanding(self._record(session, upto))
        give_back()
        return shown

    def answer(self, session: str, name: Name, help_text: str) -> str:
        """See ``Understander``."""
        return help_text if name == "help" else answer(name, self._record(session), help_text)

    def close(self) -> None:
        """See ``Understander``."""

    def _record(self, session: str, upto: int | None = None) -> Record:
        with Reader(self._home) as reader:
            facts = reader.facts(session)
        if upto is not None:
            facts = replace(facts, utterances=tuple(one for one in facts.utterances if one.id <= upto))
        return compile_facts(facts)


class Apart:
    """In a process of its own, which is started again when it fails."""

    def __init__(self, home: Path) -> None:
        self._home = home
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None

    def prepare(self) -> None:
        """See ``Understander``."""
        with self._lock:
            self._ready()

    def show(self, session: str, upto: int) -> Understanding:
        """See ``Understander``."""
        row = self._ask({"session": session, "upto": upto})
        lines, suspects, off = (tuple(row[name]) for name in ("lines", "suspects", "off"))
        return Understanding(lines, suspects, off, row["looks"])

    def answer(self, session: str, name: Name, help_text: str) -> str:
        """See ``Understander``."""
        if name == "help":
            return help_text
        return str(self._ask({"session": session, "name": name})["answer"])

    def close(self) -> None:
        """See ``Understander``."""
        with self._lock:
            self._drop()

    def _ask(self, question: dict[str, str | int]) -> dict[str, Any]:
        with self._lock:
            line = self._exchange(json.dumps(question)) or self._exchange(json.dumps(question))
        if not line:
            raise NarratorError("E606", engine="understanding", why="its process ended twice")
        row: dict[str, Any] = json.loads(line)
        if row.get("code") == "E305":
            raise NarratorError("E305", session=question["session"])
        if "code" in row:
            raise NarratorError("E606", engine="understanding", why=row["why"])
        return row

    def _exchange(self, question: str) -> str:
        """The line that answers; empty when the process died or took too long."""
        process = self._ready()
        assert process.stdin is not None
        assert process.stdout is not None
        watch = threading.Timer(_PATIENCE_S, process.kill)
        watch.daemon = True
        watch.start()
        try:
            process.stdin.write(question + "\n")
            process.stdin.flush()
            line = process.stdout.readline()
        except OSError:
            line = ""
        finally:
            watch.cancel()
        if not line:
            self._drop()
        return line

    def _ready(self) -> subprocess.Popen[str]:
        if self._process is None:
            self._process = subprocess.Popen(
                [sys.executable, "-m", "narrator.live.understander_main", str(self._home)],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
                env=os.environ | {"NARRATOR_HOME": str(self._home), "PYTHONMALLOC": "malloc"},
            )  # fmt: skip
        return self._process

    def _drop(self) -> None:
        if self._process is None:
            return
        process, self._process = self._process, None
        for pipe in (process.stdin, process.stdout):
            try:
                if pipe is not None:
                    pipe.close()
            except OSError:  # it died with a question unread
                continue
        try:
            process.wait(2.0)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
