"""The application: every address, behind the guard."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.convertors import Convertor, register_url_convertor
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from narrator.errors import NarratorError
from narrator.review import approving, correcting, live, looking, reading, replaying, searching, sound
from narrator.review.access import Access
from narrator.review.desk import Desk
from narrator.review.guard import Guard
from narrator.review.lessons import Rounds
from narrator.review.pages import HERE, Problem, not_found, on_problem
from narrator.settings import Settings


class _JobId(Convertor[str]):
    """An id of a session: nothing else reaches a route, so no path can be built from an address."""

    regex = "[0-9a-hjkmnp-tv-z]{12}"

    def convert(self, value: str) -> str:
        return value

    def to_string(self, value: str) -> str:
        return value


class _Number(_JobId):
    """A whole number of up to fifteen digits."""

    regex = "[0-9]{1,15}"


register_url_convertor("job", _JobId())
register_url_convertor("number", _Number())


def routes() -> list[Route | Mount]:
    """Every address of the page."""
    job, line = "/jobs/{job:job}", "/jobs/{job:job}/lines/{line:number}"
    return [
        Route("/", reading.jobs),
        Route("/news", live.list_news),
        Route("/keys", reading.keys),
        Route("/search", searching.search),
        Route("/searches", searching.keep, methods=["POST"]),
        Route("/searches/drop", searching.forget, methods=["POST"]),
        Route("/names", searching.hide_names, methods=["POST"]),
        Route("/login", reading.log_in_page),
        Route("/login", reading.log_in, methods=["POST"]),
        Route(job, reading.job),
        Route(f"{job}/news", live.job_news),
        Route(f"{job}/looks", looking.looks),
        Route(f"{job}/looks", looking.decide, methods=["POST"]),
        Route(line, correcting.line),
        Route(line, correcting.correct, methods=["POST"]),
        Route(f"{line}/undo", correcting.undo, methods=["POST"]),
        Route(f"{line}/strike", correcting.strike, methods=["POST"]),
        Route(f"{line}/words", sound.words),
        Route(f"{job}/words", correcting.add_word, methods=["POST"]),
        Route(f"{job}/added", correcting.add),
        Route(f"{job}/added", correcting.insert, methods=["POST"]),
        Route(f"{job}/replay", replaying.entry),
        Route(f"{job}/replay", replaying.begin, methods=["POST"]),
        Route(f"{job}/replay/case", replaying.case),
        Route(f"{job}/replay/ending", replaying.ending),
        Route(f"{job}/replay/answers", replaying.answers),
        Route(f"{job}/replay/{{number:number}}", replaying.stop),
        Route(f"{job}/replay/{{number:number}}", replaying.answer, methods=["POST"]),
        Route(f"{job}/replay/{{number:number}}/sound", replaying.heard),
        Route(f"{job}/replay/{{number:number}}/sound/{{line:number}}", replaying.heard),
        Route(f"{job}/approval", approving.approval),
        Route(f"{job}/approval", approving.approve, methods=["POST"]),
        Route(f"{job}/reopen", approving.reopen, methods=["POST"]),
        Route(f"{job}/revisions", approving.revisions),
        Route(f"{job}/sound/{{number:number}}", sound.sound),
        Route(f"{job}/export/{{name}}", approving.export),
        Mount("/static", StaticFiles(directory=HERE / "static")),
    ]


def make_app(settings: Settings, access: Access) -> Starlette:
    """The application on the database of ``settings``; its writer is closed when it shuts down."""
    desk = Desk(settings)

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        yield
        app.state.stopping.set()
        desk.close()

    app = Starlette(
        routes=routes(),
        middleware=[Middleware(Guard, access=access)],
        exception_handlers={Problem: on_problem, NarratorError: on_problem, HTTPException: not_found},
        lifespan=lifespan,
    )
    app.state.desk, app.state.access, app.state.rounds = desk, access, Rounds()
    app.state.streams, app.state.stopping = 0, asyncio.Event()
    return app
