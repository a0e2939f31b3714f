"""News as it happens, as server-sent events: lines being spoken, and what other reviewers do.

Another process writes; ``PRAGMA data_version`` of an open connection tells cheaply whether anything changed.
One that was killed writes nothing: which jobs broke off is asked beside it.
"""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable
from typing import Any

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response, StreamingResponse

from narrator.review.pages import desk, job_id
from narrator.store.review import ReviewReader

EVERY = 0.4
"""Seconds between two looks at the database."""
_STILL = 15.0
"""After so many seconds without news a comment is sent, so that a browser that has gone is noticed."""
MOST_STREAMS = 24


def job_news(request: Request) -> Response:
    """Lines after ``after``, changes after the first ``since``, and the end of the narration."""
    session = job_id(request)
    seq = _whole(request.headers.get("last-event-id", "") or request.query_params.get("after", ""))
    since = _whole(request.query_params.get("since", ""))
    with desk(request).reader() as reader:
        state = reader.job(session).state

    def news(reader: ReviewReader) -> list[str]:
        """Events since the last look."""
        nonlocal seq, since, state
        found = []
        for line in reader.lines_after(session, seq):
            seq = line.seq
            found.append(event("line", {"id": line.id, "start": line.start, "end": line.end,
                                        "text": line.text}, seq))  # fmt: skip
        since, changes = reader.last_changes(session, since)
        for change in changes:
            found.append(event("change", {"kind": change.kind, "utterance": change.utterance,
                                          "who": change.who, "when": change.when}))  # fmt: skip
        now = reader.job(session).state
        if now != state:
            found.append(event("state", {"state": now}))
            state = now
        return found

    return stream(request, news)


def list_news(request: Request) -> Response:
    """Tells that the list of jobs has changed: a job began or ended, was approved, or grew by a line."""
    last = request.query_params.get("version", "")[:80]

    def news(reader: ReviewReader) -> list[str]:
        """One event when the list has changed."""
        nonlocal last
        now, before = reader.news_version(), last
        last = now
        return [event("list", {"version": now})] if now != before else []

    return stream(request, news)


def stream(request: Request, news: Callable[[ReviewReader], list[str]]) -> Response:
    """A stream of what ``news`` finds whenever the database has changed; limited in number."""
    state = request.app.state
    if state.streams >= MOST_STREAMS:
        return PlainTextResponse("Too many pages are open.\n", 503, headers={"retry-after": "30"})

    async def run() -> AsyncIterator[str]:
        """Look every so often until the page closes or the server stops."""
        state.streams += 1
        watch = _Watch(desk(request).reader(), news)
        try:
            quiet = 0.0
            yield "retry: 2000\n\n"
            while not state.stopping.is_set():
                found = await asyncio.to_thread(watch.look)
                quiet = 0.0 if found else quiet + EVERY
                for one in found:
                    yield one
                if quiet >= _STILL:
                    quiet = 0.0
                    yield ": still here\n\n"
                await asyncio.sleep(EVERY)
        finally:
            state.streams -= 1
            watch.close()

    return StreamingResponse(run(), media_type="text/event-stream")


class _Watch:
    """Looks at the database from worker threads; closing waits for a look that is under way.

    A stream is cancelled at any moment, and a connection must not be closed under a running statement.
    """

    def __init__(self, reader: ReviewReader, news: Callable[[ReviewReader], list[str]]) -> None:
        self._reader, self._news = reader, news
        self._lock = threading.Lock()
        self._known: tuple[int, tuple[str, ...]] | None = None
        self._open = True

    def look(self) -> list[str]:
        """What is new, if anything has changed since the last look."""
        with self._lock:
            if not self._open:
                return []
            now = (self._reader.data_version(), self._reader.broken())
            if now == self._known:
                return []
            self._known = now
            return self._news(self._reader)

    def close(self) -> None:
        """Close the connection."""
        with self._lock:
            self._open = False
            self._reader.close()


def event(name: str, data: dict[str, Any], ident: int | None = None) -> str:
    """One event; its data is JSON on one line, so that nothing said can end it early."""
    number = f"id: {ident}\n" if ident is not None else ""
    return f"event: {name}\n{number}data: {json.dumps(data)}\n\n"


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else 0
