"""Correcting a line: its own page, the change itself, taking it back, striking it, teaching a word."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from narrator.language.shop_words import KINDS
from narrator.review.pages import Problem, desk, field, job_id, number, page, signed, then
from narrator.review.reading import lines
from narrator.review.sound import place_of
from narrator.store.review import Decision
from narrator.store.rows import Addition, Strike, wall_time
from narrator.values import Correction


def line(request: Request, mine: str | None = None, status: int = 200) -> Response:
    """The page of one line: what was heard, what became of it, who corrected it; ``mine`` is unsaved text."""
    session, ident = job_id(request), int(request.path_params["line"])
    shown = desk(request).show(session)
    row = next((one for one in shown.record.utterances if one.id == ident), None)
    if row is None:
        raise Problem(404, f"There is no line {ident} in this job.")
    facts = shown.facts
    changed: list[Correction | Strike | Addition] = [*facts.additions, *facts.corrections, *facts.strikes]
    history = sorted((one for one in changed if one.utterance == ident), key=lambda one: one.when)
    return page(request, "line.html.j2", status, shown=shown, row=row, history=history, mine=mine,
                sound=None if row.added else place_of(facts.sounds, row.start), session=session,
                seen=desk(request).seen(session, ident))  # fmt: skip


def correct(request: Request) -> Response:
    """Keep a better wording; where someone was faster, show theirs beside it and keep nothing."""
    session, ident = job_id(request), int(request.path_params["line"])
    name = signed(request)
    text = field(request, "text", needed="There is no wording.")
    made = Correction(ident, text, name, wall_time(), field(request, "reason", 200))
    key = desk(request).correct(session, made, number(request, "seen"))
    if key is None:
        return line(request, mine=text, status=409)
    if look := field(request, "look", 80):
        desk(request).decide(session, Decision(look, ident, "corrected", name, wall_time()))
        return then(request, f"/jobs/{session}/looks?changes={key}#look")
    return then(request, f"/jobs/{session}?changes={key}#u{ident}")


def add(request: Request) -> Response:
    """The page on which a line is added; it stands after the last one unless ``after`` names another."""
    session = job_id(request)
    shown = desk(request).show(session)
    rows = lines(shown, [])
    typed = request.query_params.get("after", "")
    known = {str(row.id): row.id for row in rows} | {"0": 0}
    after = known.get(typed, rows[-1].id if rows else 0)
    return page(request, "add.html.j2", session=session, shown=shown, rows=rows, after=after)


def insert(request: Request) -> Response:
    """Keep a line that was not said."""
    session = job_id(request)
    text = field(request, "text", needed="There are no words.")
    reason = field(request, "reason", 200)
    ident, key = desk(request).insert(session, number(request, "after"), text, signed(request), reason)
    return then(request, f"/jobs/{session}?changes={key}#u{ident}")


def undo(request: Request) -> Response:
    """Take the latest correction of a line back."""
    session, ident = job_id(request), int(request.path_params["line"])
    key = desk(request).undo(session, ident, signed(request))
    return then(request, f"/jobs/{session}" + (f"?changes={key}#u{ident}" if key else f"#u{ident}"))


def strike(request: Request) -> Response:
    """Keep a line off the sheet, or have it back."""
    session, ident = job_id(request), int(request.path_params["line"])
    key = desk(request).strike(session, ident, signed(request), field(request, "struck", 3) == "yes")
    return then(request, f"/jobs/{session}?changes={key}#u{ident}")


def add_word(request: Request) -> Response:
    """Add a word to the shop's vocabulary; the next session knows it, and this one is read anew."""
    session = job_id(request)
    word = field(request, "word", 80, "There is no word.")
    kind = field(request, "kind", 20) or KINDS[0]
    kept = desk(request).add_word(session, word, kind, field(request, "heard", 80))
    return then(request, f"/jobs/{session}?word={kept.replace(' ', '+')}")
