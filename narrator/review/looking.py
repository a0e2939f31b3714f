"""The queue of what needs a look in one job: one at a time, each with its reason, by keyboard."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from narrator.review.pages import Problem, desk, field, job_id, page, signed, then
from narrator.review.reading import lines, starts_of
from narrator.store.review import Decided, Decision, LookItem
from narrator.store.rows import wall_time

_AROUND = 2
_DECIDED: dict[str, Decided] = {"accept": "accepted", "dismiss": "dismissed", "undo": "undone"}


def looks(request: Request) -> Response:
    """The look named by ``at``, else the first that is open, with the lines around it."""
    session = job_id(request)
    shown = desk(request).show(session)
    with desk(request).reader() as reader:
        items = reader.looks(session)
    waiting = [one for one in items if one.open]
    named = request.query_params.get("at", "")
    current = next((one for one in items if one.look == named), waiting[0] if waiting else None)
    rows = lines(shown, waiting)
    place = next((n for n, row in enumerate(rows) if current and row.id == current.utterance), None)
    around = rows[max(0, place - _AROUND) : place + _AROUND + 1] if place is not None else []
    latest = max((one for one in items if not one.open), key=lambda one: one.when or "", default=None)
    return page(request, "looks.html.j2", shown=shown, session=session, items=items, waiting=waiting,
                current=current, around=around, pieces=pieces(current, rows), sounds=starts_of(shown),
                latest=latest,
                before=_beside(waiting, items, current, -1), after=_beside(waiting, items, current, 1),
                told=desk(request).told(request.query_params.get("changes", "")[:40]))  # fmt: skip


def pieces(current: LookItem | None, rows: list) -> tuple[str, str, str] | None:  # type: ignore[type-arg]
    """The heard text cut around what the look is about; None where it is about the whole line."""
    row = next((one for one in rows if current and one.id == current.utterance), None)
    if row is None or current is None or current.span is None or row.corrected:
        return None
    start, end = current.span
    return (row.heard[:start], row.heard[start:end], row.heard[end:]) if 0 <= start < end else None


def _beside(
    waiting: list[LookItem], items: list[LookItem], current: LookItem | None, step: int
) -> LookItem | None:
    """The open look after (or before) the current one, going round at the ends."""
    if current is None:
        return None
    order = [one for one in items if one.open or one.look == current.look]
    other = order[(order.index(current) + step) % len(order)]
    return None if other.look == current.look else other


def decide(request: Request) -> Response:
    """Keep a decision and go on to the next look."""
    session, name = job_id(request), signed(request)
    desk(request).show(session)
    look = field(request, "look", 80)
    made = _DECIDED.get(field(request, "decision", 10))
    with desk(request).reader() as reader:
        items = reader.looks(session)
    current = next((one for one in items if one.look == look), None)
    if current is None or made is None:
        raise Problem(
            409, "That is not in the list any more.", "Someone changed the job: load the list again."
        )
    following = _beside([], items, current, 1)
    desk(request).decide(session, Decision(look, current.utterance, made, name, wall_time()))
    to = look if made == "undone" else following.look if following else ""
    return then(request, f"/jobs/{session}/looks" + (f"?at={to}" if to else "") + "#look")
