"""The search page: full text and structure asked together; searches kept under a name, run again, dropped."""

from __future__ import annotations

import re
import threading
from urllib.parse import parse_qsl, urlsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from narrator.errors import NarratorError
from narrator.review import asking
from narrator.review.naming import COOKIE, HIDDEN, Names
from narrator.review.pages import NAME_LETTERS, Problem, desk, field, page
from narrator.store.finding import Answer, Wanted
from narrator.store.results import Result
from narrator.store.review import ReviewReader
from narrator.training.kinds import system_names
from narrator.training.searches import find_jobs, forget_search, keep_search, saved_search, saved_searches

PAGE_ROWS = 20
_keeping = threading.Lock()
"""One change of the kept searches at a time: the file is read, changed and written."""


def search(request: Request, clash: str = "", status: int = 200) -> Response:
    """The form, the kept searches, and the jobs that have what is asked.

    ``clash`` is the name under which another search is kept already.
    """
    given = request.query_params if request.method == "GET" else request.state.form
    number = given.get("page", "1")
    at = max(1, int(number)) if number.isascii() and number.isdigit() and len(number) < 6 else 1
    with desk(request).reader() as reader:
        names = Names.of(request, reader.people())
        wanted, wrong = asking.read(given, names)
        answer, rows = Answer(0, ()), tuple[Result, ...]()
        if not wrong and not wanted.empty:
            try:
                answer, rows = _found(reader, wanted, at)
            except NarratorError as error:
                if error.code != "E313":
                    raise
                wrong = "One of the conditions holds no word or number."
    kept = _kept(request, names)
    known = {name for name, _, _ in kept}
    told, dropped = given.get("told", ""), given.get("dropped", "")[:NAME_LETTERS]
    return page(
        request, "search.html.j2", status, wanted=wanted, wrong=wrong, names=names, rows=rows, at=at,
        pages=max(1, -(-answer.count // PAGE_ROWS)), total=answer.count, kept=kept, words=asking,
        asked=asking.in_words(wanted, names), systems=system_names(), zip=zip, clash=clash,
        told=told if told in known else "", dropped=dropped if dropped not in known else "",
        here=asking.address(wanted, names, page=at),
        beside=lambda step: asking.address(wanted, names, page=at + step),
        marked=lambda text: asking.marked(names.text(text), wanted),
    )  # fmt: skip


def _found(reader: ReviewReader, wanted: Wanted, at: int) -> tuple[Answer, tuple[Result, ...]]:
    answer = find_jobs(reader, wanted, PAGE_ROWS, (at - 1) * PAGE_ROWS)
    return answer, reader.results(answer)


def _kept(request: Request, names: Names) -> list[tuple[str, str, str]]:
    """Kept searches: the name, what is asked in words, the address that runs it."""
    return [
        (name, ", ".join(one.words for one in asking.in_words(wanted, names)), asking.address(wanted, names))
        for name, wanted in saved_searches(desk(request).settings.home).items()
    ]


def keep(request: Request) -> Response:
    """Keep a search under a name; another of that name is replaced only when that was ticked."""
    name = field(request, "name", NAME_LETTERS, "Give the search a name.")
    home = desk(request).settings.home
    with desk(request).reader() as reader:
        names = Names.of(request, reader.people())
    wanted, wrong = asking.read(request.state.form, names)
    if wrong or wanted.empty:
        raise Problem(400, wrong or "Nothing is asked.", "Go back and ask for something; nothing was kept.")
    with _keeping:
        other = saved_searches(home).get(name)
        if other is not None and other != wanted and field(request, "replace", 3) != "yes":
            return search(request, clash=name, status=409)
        keep_search(home, name, wanted)
    return RedirectResponse(asking.address(wanted, names, told=name) + "#kept", 303)


def forget(request: Request) -> Response:
    """Drop a kept search; the page then shows what it asked, so that it can be kept again at once."""
    name = field(request, "name", NAME_LETTERS, "There is no name.")
    home = desk(request).settings.home
    with desk(request).reader() as reader:
        names = Names.of(request, reader.people())
    with _keeping:
        wanted = saved_search(home, name)
        forget_search(home, name)
    return RedirectResponse(asking.address(wanted, names, dropped=name) + "#kept", 303)


_BACK = re.compile(r"/search|/jobs/[0-9a-hjkmnp-tv-z]{12}/replay(?:/[a-z0-9]+)?")


def hide_names(request: Request) -> Response:
    """Hide people's names in this browser, or show them again; goes back to the page that asked."""
    back, hidden = urlsplit(field(request, "back", 1800)), field(request, "names", 10) == HIDDEN
    if back.scheme or back.netloc or not _BACK.fullmatch(back.path):
        raise Problem(400, "There is no such page to go back to.")
    to = back.path + (f"?{back.query}" if back.query else "")
    if back.path == "/search":  # the address of a search tells the person by name, or does not
        with desk(request).reader() as reader:
            names = Names(reader.people(), hidden)
        to = asking.address(asking.read(dict(parse_qsl(back.query)), names)[0], names)
    answer = RedirectResponse(to, 303)
    if hidden:
        answer.set_cookie(COOKIE, HIDDEN, samesite="strict", httponly=True)
    else:
        answer.delete_cookie(COOKIE)
    return answer
