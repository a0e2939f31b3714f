"""For everybody: axe-core finds nothing, targets fit a finger, nothing overflows."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from narrator.store.finding import Wanted
from narrator.store.review import ReviewReader, ReviewWriter
from narrator.training.searches import keep_search
from narrator.values import Correction
from tests.review.helpers import put_job

pytestmark = pytest.mark.browser
RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": [
        "violations"
    ],  # all is checked, but what passes is not described in full: a third of the time
}
SMALL = """() => [...document.querySelectorAll('a, button, input, select, textarea, summary')]
    .filter(one => one.checkVisibility() && !one.closest('p:not(.files), dd, svg')
        && !one.matches('.skip, [type=hidden]'))
    .map(one => [one, (one.matches('[type=checkbox]') ? one.closest('label') : one).getBoundingClientRect()])
    .filter(([, box]) => box.width > 0 && (box.width < 43.9 || box.height < 43.9))
    .map(([one, box]) => `${one.outerHTML.slice(0, 90)} ${box.width}x${box.height}`)"""


@pytest.fixture
def states(home: Path, job: str) -> dict[str, str]:
    """Jobs in every state: to review with a correction, being narrated, approved."""
    live = put_job(home, ("okay recording",), ended=False, sound=False)
    done = put_job(home, vehicle="2019 Halden Scythe")
    with ReviewWriter(home) as writer, ReviewReader(home) as reader:
        stored = reader.record(done)
        assert stored is not None
        writer.approve(done, "Ana", "2031-03-04T10:00:00+01:00", stored.sha256)
        writer.add_correction(job, Correction(2, "as corrected", "Ana", "2031-03-04T10:00:00+01:00"))
    return {"review": job, "live": live, "approved": done}


@pytest.mark.parametrize(("width", "shade"), [(360, "dark"), (1024, "light"), (1920, "dark")])
def test_nothing_stands_in_anybodys_way(
    chromium: Browser, url: str, home: Path, states: dict[str, str], width: int, shade: str
) -> None:
    context = chromium.new_context(base_url=url, viewport={"width": width, "height": 900}, color_scheme=shade,
                                   bypass_csp=True, reduced_motion="reduce")  # fmt: skip
    page = context.new_page()
    keep_search(home, "Ground faults with a very long name that goes on and on", Wanted(confirmed="ground"))
    job, live, done = states["review"], states["live"], states["approved"]
    of_job = ("", "/looks", "/lines/2", "/added", "/approval")
    searches = ("", "?said=%21", "?said=strap&ended=confirmed&dropped=Mine")
    paths = [*("/", "/?state=live", "/keys", "/nothing", f"/jobs/{live}"),
             *(f"/search{asked}" for asked in searches),
             *(f"/jobs/{job}{end}" for end in of_job),
             *(f"/jobs/{job}/replay{end}" for end in ("", "/case", "/ending", "/answers")),
             *(f"/jobs/{done}{end}" for end in ("", "/approval", "/revisions"))]  # fmt: skip
    for path in paths:
        page.goto(path)
        if path == f"/jobs/{job}":
            page.locator("#u3 [data-row]").click()
        if width > 1024 and path.startswith(("/search", f"/jobs/{job}/replay")):  # the same as at 1024
            found = []
        else:
            found = Axe().run(page, options=RULES).response["violations"]
        told = [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found]
        assert not told, f"{path}: {json.dumps(told, indent=1)}"
        assert not page.evaluate(SMALL), path
        assert page.evaluate("document.documentElement.scrollWidth") <= width, (
            f"{path} is wider than the screen"
        )
    page.goto(f"/jobs/{job}/replay")
    with page.expect_navigation():
        page.locator("button", has_text="Begin").click()
    for _ in range(3):
        found = Axe().run(page, options=RULES).response["violations"]
        assert not found, json.dumps(
            [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found], indent=1
        )
        assert not page.evaluate(SMALL), page.url
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        if page.locator("textarea").count():
            with page.expect_navigation():
                page.locator("button", has_text="See what happened").click()
    page.goto(f"/jobs/{job}")
    page.keyboard.press("?")
    assert not Axe().run(page, options=RULES).response["violations"]
    context.close()
