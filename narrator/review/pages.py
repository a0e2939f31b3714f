"""Templates, and the small things that every page needs: names, addresses, fields of a form."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from narrator.errors import NarratorError
from narrator.looks import titles
from narrator.review.access import WHO_COOKIE, Access
from narrator.review.desk import Desk
from narrator.sheet.words import clock, counted

HERE = Path(__file__).parent
TEXT_LETTERS = 2000
NAME_LETTERS = 80
GO_ON = (
    "Start “narrator listen”: before it listens, it puts the job in order and hears what is on the tape and"
    " was not heard yet. Then the job can be approved."
)
"""How to go on with a job whose program was killed."""
_STATUS = {
    "E301": 503, "E305": 404, "E311": 404, "E313": 400, "E315": 409, "E316": 409, "E317": 400, "E701": 409,
    "E803": 404, "E806": 404, "E910": 400, "E911": 400,
}  # fmt: skip
"""What a coded error answers as; others are faults of the program."""


class Problem(Exception):  # noqa: N818 - it is an answer, not a fault of the program
    """An answer that is not the page asked for: its status, what is the matter, what to do."""

    def __init__(self, status: int, what: str, advice: str = "") -> None:
        super().__init__(what)
        self.status, self.what, self.advice = status, what, advice


@cache
def environment() -> Environment:
    """The templates; every value is escaped."""
    made = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["clock"] = clock
    made.filters["counted"] = counted
    made.filters["day"] = lambda when: when[:16].replace("T", " ")
    made.globals["kinds"] = titles()
    made.globals["go_on"] = GO_ON
    return made


def page(request: Request, name: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page made of the template ``name``."""
    text = environment().get_template(name).render(who=who(request), token=access(request).token, **values)
    return HTMLResponse(text, status)


def desk(request: Request) -> Desk:
    """The desk of the program."""
    found: Desk = request.app.state.desk
    return found


def access(request: Request) -> Access:
    """Who may use the page."""
    found: Access = request.app.state.access
    return found


def job_id(request: Request) -> str:
    """The id in the address; its shape is checked by the route."""
    return str(request.path_params["job"])


def who(request: Request) -> str:
    """The name that this browser last signed with."""
    return unquote(request.cookies.get(WHO_COOKIE, ""))[:NAME_LETTERS]


def field(request: Request, name: str, most: int = TEXT_LETTERS, needed: str = "") -> str:
    """A field of a form as one line of text.

    Raises:
        Problem: when it is too long, or empty although ``needed`` says what for.
    """
    text = " ".join(str(request.state.form.get(name, "")).split())
    if len(text) > most:
        raise Problem(413, f"That is longer than {most} letters.", "Shorten it; nothing was changed.")
    if needed and not text:
        raise Problem(400, needed, "Go back and fill it in; nothing was changed.")
    return text


def number(request: Request, name: str) -> int:
    """A field that is a whole number, else 0."""
    text = field(request, name, 20)
    return int(text) if text.isascii() and text.isdigit() else 0


def signed(request: Request) -> str:
    """The name that a write is signed with.

    Raises:
        Problem: when there is none.
    """
    return field(request, "who", NAME_LETTERS, "Who are you? A change is kept with a name.")


def then(request: Request, address: str) -> Response:
    """Go on to another page, remembering the name signed with."""
    answer = RedirectResponse(address, 303)
    if name := field(request, "who", NAME_LETTERS):
        answer.set_cookie(WHO_COOKIE, quote(name), max_age=31_536_000, samesite="strict", httponly=True)
    return answer


async def on_problem(request: Request, error: Exception) -> Response:
    """A page that says what is the matter."""
    if isinstance(error, Problem):
        return page(request, "problem.html.j2", error.status, what=error.what, advice=error.advice)
    assert isinstance(error, NarratorError)
    status = _STATUS.get(error.code, 500)
    return page(request, "problem.html.j2", status, what=error.message, advice=error.remedy)


async def not_found(request: Request, error: Exception) -> Response:
    """A page for an address that leads nowhere."""
    return page(
        request,
        "problem.html.j2",
        404,
        what="There is no such page.",
        advice="The list of jobs has them all.",
    )
