"""The list of jobs, and the page of one job: its sheet, what was said, the picture of the reasoning."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from narrator.review.desk import Shown
from narrator.review.pages import desk, field, job_id, page, then, who
from narrator.review.sound import place_of
from narrator.sheet.document import Picture
from narrator.sheet.html import plain
from narrator.sheet.words import Moment, clock
from narrator.store.jobs import STATES
from narrator.store.review import LookItem

PAGE_ROWS = 40
_SVG = "http://www.w3.org/2000/svg"


@dataclass(frozen=True, slots=True)
class Line:
    """An utterance as the page lists it."""

    id: int
    start: float
    end: float
    heard: str
    text: str
    corrected: bool
    struck: bool
    seen: int
    sound: str | None
    looks: tuple[str, ...]
    added: bool


def jobs(request: Request) -> Response:
    """The list, searched and narrowed."""
    typed = request.query_params.get("q", "")[:200]
    wanted = request.query_params.get("state", "")
    state = next((one for one in STATES if one == wanted), None)
    number = request.query_params.get("page", "1")
    at = max(1, int(number)) if number.isdigit() and len(number) < 6 else 1
    with desk(request).reader() as reader:
        found = reader.jobs(typed, state, PAGE_ROWS, (at - 1) * PAGE_ROWS)
        counts = reader.states()
        version = reader.news_version()
    pages = max(1, -(-found.total // PAGE_ROWS))
    return page(
        request, "jobs.html.j2", rows=found.rows, total=found.total, counts=counts, typed=typed, state=state,
        at=at, pages=pages, version=version, shop=desk(request).settings.shop,
    )  # fmt: skip


def job(request: Request) -> Response:
    """One job: sheet, transcript, sound."""
    session = job_id(request)
    shown = desk(request).show(session)
    with desk(request).reader() as reader:
        row = reader.job(session)
        looks = [one for one in reader.looks(session) if one.open] if shown.approval is None else []
        changed, _ = reader.last_changes(session, 1 << 30)
        newest = reader.newest_line(session)
    told = desk(request).told(request.query_params.get("changes", "")[:40])
    key = (session, shown.sha256, shown.facts.version, row, changed, newest, who(request))
    known = desk(request).pages.get(key) if told is None else None
    if known is not None:
        return HTMLResponse(known)
    answer = page(request, "job.html.j2", job=row, shown=shown, sections=sections(shown, session),
                  lines=lines(shown, looks), looks=looks, changed_count=changed, newest=newest, told=told,
                  words=_offered(told), sounds=starts_of(shown))  # fmt: skip
    if told is None:
        desk(request).pages.keep(key, bytes(answer.body))
    return answer


def starts_of(shown: Shown) -> str:
    """The second at which each file of the sound begins, as a JSON list for the page's player."""
    return json.dumps([one.start for one in shown.facts.sounds])


def _offered(told: Any) -> list[tuple[str, str]]:
    from narrator.review.changes import new_words  # noqa: PLC0415 - next to its only use

    return new_words(told.heard, told.corrected) if told and told.corrected else []


def lines(shown: Shown, looks: list[LookItem]) -> list[Line]:
    """Every utterance with its wording, its place in the sound and why it wants a look."""
    why: dict[int, list[str]] = {}
    for look in looks:
        if look.utterance is not None:
            why.setdefault(look.utterance, []).append(look.reason)
    facts = shown.facts
    seen: dict[int, int] = {}
    for utterance in [*(c.utterance for c in facts.corrections), *(s.utterance for s in facts.strikes)]:
        seen[utterance] = seen.get(utterance, 0) + 1
    return [
        Line(u.id, u.start, u.end, u.text, u.clean or u.corrected or u.text, u.corrected is not None,
             u.struck, seen.get(u.id, 0), None if u.added else place_of(facts.sounds, u.start),
             tuple(why.get(u.id, ())), u.added)
        for u in sorted(shown.record.utterances, key=lambda u: u.start)
    ]  # fmt: skip


def sections(shown: Shown, session: str) -> list[dict[str, Any]]:
    """The sheet's sections as data: every row knows the utterance it stands for, where it stands for one."""
    suspects = {h.id: h.history[-1].utterance for h in shown.record.hypotheses if h.history}
    starts = {u.id: u.start for u in shown.record.utterances}
    silent = {u.id for u in shown.record.utterances if u.added}

    def at(utterance: int | None) -> dict[str, Any]:
        if utterance is None or utterance not in starts:
            return {"utterance": None, "sound": None, "time": ""}
        start = starts[utterance]
        place = None if utterance in silent else place_of(shown.facts.sounds, start)
        return {"utterance": utterance, "sound": place, "time": clock(start)}

    made = []
    for section in shown.sheet.sections:
        blocks = []
        for block in section.blocks:
            data = plain(block)
            if data["kind"] == "items":
                data["rows"] = [
                    {"item": row, **at(getattr(row.time, "utterance", None))} for row in data["items_"]
                ]
            elif data["kind"] == "table":
                data["rows"] = [{"cells": row, **at(_moment(row, suspects))} for row in data["rows"]]
            elif isinstance(block, Picture):
                data["svg"] = linked(block.svg)
            blocks.append(data)
        if section.id != "sign":
            made.append({"id": section.id, "title": section.title, "blocks": blocks})
    return made


def _moment(row: tuple[Any, ...], suspects: dict[str, int]) -> int | None:
    """The utterance of a table's row: its time's, or the last of the suspect that it names."""
    for cell in row:
        for text in cell.lines:
            if isinstance(text, Moment):
                return text.utterance
    return suspects.get(row[0].text)


def linked(svg: str) -> Markup:
    """The drawing with every mark as a link to its line, large enough for a finger."""
    ET.register_namespace("", _SVG)
    root = ET.fromstring(svg)
    root.attrib.pop("role", None)  # its marks are links: it is no single image any more
    root.set("role", "group")
    parents = {child: parent for parent in root.iter() for child in parent}
    for mark in [one for one in root.iter() if one.get("data-utterance")]:
        parent, title = parents[mark], mark.find(f"{{{_SVG}}}title")
        label = (title.text or "" if title is not None else "") or "mark"
        number = mark.get("data-utterance")
        link = ET.Element(
            f"{{{_SVG}}}a", {"href": f"#u{number}", "aria-label": label, "data-go": str(number)}
        )
        spot = mark.find(f"{{{_SVG}}}*[@x]")
        parent[list(parent).index(mark)] = link
        if (middle := _middle(mark, spot)) is not None:
            x, y = middle
            ET.SubElement(link, f"{{{_SVG}}}rect", {
                "x": f"{x - 22:.1f}", "y": f"{y - 24:.1f}", "width": "44", "height": "46", "class": "reach",
            })  # fmt: skip
        link.append(mark)
    return Markup(ET.tostring(root, encoding="unicode"))  # our own drawing; its texts were escaped just now


def _middle(mark: ET.Element, spot: ET.Element | None) -> tuple[float, float] | None:
    """Where a mark's shape stands."""
    for shape in mark.iter():
        if shape.get("cx"):
            return float(shape.get("cx", 0)), float(shape.get("cy", 0))
        if shape.get("width"):
            return (float(shape.get("x", 0)) + float(shape.get("width", 0)) / 2,
                    float(shape.get("y", 0)) + float(shape.get("height", 0)) / 2)  # fmt: skip
        numbers = [
            float(n) for n in re.findall(r"-?\d+(?:\.\d+)?", shape.get("points") or shape.get("d") or "")
        ]
        if numbers:
            xs, ys = numbers[::2], numbers[1::2]
            return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    return (float(spot.get("x", 0)), float(spot.get("y", 0)) + 11) if spot is not None else None


def keys(request: Request) -> Response:
    """The list of keys."""
    return page(request, "keys.html.j2")


def log_in_page(request: Request) -> Response:
    """Asks for the password."""
    return page(request, "login.html.j2", login=request.app.state.access.login_token, wrong=False, wait=False)


def log_in(request: Request) -> Response:
    """Lets a browser in that knows the password."""
    from narrator.review.access import COOKIE  # noqa: PLC0415 - next to its only use

    known = request.app.state.access
    cookie = known.log_in(field(request, "password", 80))
    if cookie is None:
        status = 429 if known.too_many() else 401
        return page(request, "login.html.j2", status, login=known.login_token, wrong=True, wait=status == 429)
    answer = then(request, "/")
    answer.set_cookie(COOKIE, cookie, samesite="strict", httponly=True)
    return answer
