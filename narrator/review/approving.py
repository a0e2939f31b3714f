"""Approving a sheet, opening it again, comparing its revisions, taking it away on paper or in a file."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from starlette.requests import Request
from starlette.responses import Response

from narrator.job.record import Record
from narrator.review.changes import SectionChange, changes
from narrator.review.pages import GO_ON, Problem, desk, field, job_id, page, signed, then
from narrator.session import as_corrected
from narrator.sheet.html import render_html
from narrator.sheet.markdown import render_markdown
from narrator.sheet.pdf import render_pdf
from narrator.sheet.work import left_over, outcome
from narrator.store.captions import to_webvtt
from narrator.store.rows import wall_time

_PAPER = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'"


@dataclass(frozen=True, slots=True)
class Revision:
    """One approved state, or the present one where ``who`` is None."""

    number: int
    who: str | None
    when: str | None
    sha256: str
    why: str
    record: Record


def approval(request: Request) -> Response:
    """The page on which a sheet is approved or opened again."""
    session = job_id(request)
    shown = desk(request).show(session)
    with desk(request).reader() as reader:
        row = reader.job(session)
        waiting = [one for one in reader.looks(session) if one.open]
    return page(request, "approve.html.j2", shown=shown, job=row, waiting=waiting,
                left=left_over(shown.record), outcome=outcome(shown.record),
                still_open=shown.sheet.section("open").count)  # fmt: skip


def approve(request: Request) -> Response:
    """Lock the sheet as it was read; refused where it has changed since, or is not finished."""
    session, name = job_id(request), signed(request)
    with desk(request).reader() as reader:
        state = reader.job(session).state
    if state == "live":
        raise Problem(409, "The job is still being narrated.", "Approve it when the narration has ended.")
    if state == "broken":
        raise Problem(409, "The job broke off and was not ended.", GO_ON)
    if field(request, "checked", 3) != "yes":
        raise Problem(400, "Tick that you have checked the sheet.", "Go back; nothing was approved.")
    if desk(request).writer.approve(session, name, wall_time(), field(request, "sha256", 64)) is None:
        raise Problem(
            409, "The sheet has changed since you opened this page.", "Read it again, then approve it."
        )
    return then(request, f"/jobs/{session}")


def reopen(request: Request) -> Response:
    """Open an approved sheet as a new revision."""
    session = job_id(request)
    why = field(request, "reason", 200, "Say why the sheet is opened again.")
    desk(request).writer.reopen(session, signed(request), wall_time(), why)
    return then(request, f"/jobs/{session}")


def revisions(request: Request) -> Response:
    """All revisions, and what differs between two that follow each other."""
    session = job_id(request)
    known = _revisions(request, session)
    steps: list[tuple[Revision, Revision, tuple[SectionChange, ...]]] = [
        (old, new, changes(old.record, new.record)) for old, new in pairwise(known)
    ]
    return page(request, "revisions.html.j2", session=session, known=known, steps=steps)


def _revisions(request: Request, session: str) -> list[Revision]:
    shown = desk(request).show(session)
    with desk(request).reader() as reader:
        approved = reader.approvals(session)
        why = {row.revision: row.reason for row in reader.reopenings(session)}
    found = [
        Revision(a.revision, a.who, a.when, a.sha256, why.get(a.revision, ""),
                 Record.model_validate_json(a.text))
        for a in approved
    ]  # fmt: skip
    if shown.approval is None:
        number = len(found) + 1
        found.append(Revision(number, None, None, shown.sha256, why.get(number, ""), shown.record))
    return found


def export(request: Request) -> Response:
    """The sheet or what it is made of, as a file: what is approved, else as of now."""
    session, name = job_id(request), str(request.path_params["name"])
    shown = desk(request).show(session)
    paper = desk(request).settings.paper
    if name == "sheet.html":
        return Response(render_html(shown.sheet), headers={"content-security-policy": _PAPER},
                        media_type="text/html")  # fmt: skip
    if name == "sheet.pdf":
        return _file(session, name, render_pdf(shown.sheet, paper), "application/pdf", inline=True)
    if name == "sheet.md":
        return _file(session, name, render_markdown(shown.sheet), "text/markdown")
    if name == "record.json":
        return _file(session, name, shown.record.model_dump_json(indent=1) + "\n", "application/json")
    if name == "words.vtt":
        return _file(session, name, to_webvtt(as_corrected(shown.facts)), "text/vtt")
    raise Problem(404, "There is no such file.")


def _file(session: str, name: str, content: str | bytes, kind: str, inline: bool = False) -> Response:
    how = "inline" if inline else "attachment"
    return Response(
        content, media_type=kind,
        headers={"content-disposition": f'{how}; filename="{session}-{name}"'},
    )  # fmt: skip
