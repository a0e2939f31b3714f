"""What a trainer does, in a real browser: asks many jobs, keeps what was asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from narrator.store.finding import Wanted
from narrator.training.searches import saved_search, saved_searches
from tests.browser.test_review import NASTY, press
from tests.review.helpers import put_job
from tests.review.test_search import by

pytestmark = pytest.mark.browser


def test_jobs_are_asked_kept_and_dropped_by_keyboard_alone(page: Page, home: Path, job: str) -> None:
    page.goto("/")
    press(page, "f")
    page.wait_for_url("**/search")
    press(page, "/")
    page.keyboard.type("gronkle")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.type("battery")
    page.keyboard.press("Tab")
    page.keyboard.type("cleared")
    with page.expect_navigation():
        press(page, "Control+Enter")
    assert page.url.endswith("/search?said=gronkle&suspected=battery&ended=cleared#found")
    expect(page.locator(".count-h")).to_have_text("1 job")
    expect(page.locator(".found mark", has_text="gronkle")).to_be_visible()
    press(page, "s")
    page.keyboard.type("Cleared batteries")
    with page.expect_navigation():
        press(page, "Enter")
    expect(page.locator(".done-note")).to_contain_text("Kept as “Cleared batteries”")
    assert saved_search(home, "Cleared batteries") == Wanted(
        said="gronkle", suspected="battery", ended="cleared"
    )
    with page.expect_navigation():
        press(page, "0")
    expect(page.locator(".found")).to_have_count(0)
    press(page, "j")
    with page.expect_navigation():
        press(page, "Enter")
    expect(page.locator(".count-h")).to_have_text("1 job")
    page.locator(".chips a", has_text="suspected").click()
    assert "suspected" not in page.url
    page.locator(".kept-list button").click()
    expect(page.locator(".done-note")).to_contain_text("is dropped")
    assert saved_searches(home) == {}


def test_a_matched_line_leads_to_its_place_in_the_job(page: Page, job: str) -> None:
    page.goto("/search?confirmed=ground")
    page.locator(".why-lines .at").first.click()
    page.wait_for_url(f"**/jobs/{job}#u8")
    expect(page.locator("#u8")).to_be_in_viewport()


def test_names_are_hidden_and_shown_with_one_key(page: Page, home: Path) -> None:
    by(home, "Zenobia", "zenobia here the ground strap is loose")
    page.goto("/search?said=loose&person=Zenobia")
    with page.expect_navigation():
        press(page, "h")
    assert "Zenobia" not in page.url
    assert "zenobia" not in page.content().lower()
    expect(page.locator(".count-h")).to_have_text("1 job")
    with page.expect_navigation():
        press(page, "h")
    expect(page.locator(".job-head")).to_contain_text("Zenobia")


def test_script_in_searches_and_results_does_not_run(page: Page, home: Path) -> None:
    put_job(home, (f"could be the battery {NASTY}",), source=f"{NASTY}.wav", vehicle=NASTY, sound=False)
    by(home, NASTY, f"the battery {NASTY} is flat")
    page.goto("/search?said=battery")
    expect(page.locator(".found > li")).to_have_count(3)
    page.locator(".keep-it [name=name]").fill(NASTY)
    page.locator(".keep-it button").click()
    for path in ("/search", "/search?said=flat", f"/search?said={NASTY}", f"/search?said=x&dropped={NASTY}"):
        page.goto(path)
        page.wait_for_timeout(50)
        assert page.evaluate("window.bad") is None, path


def test_the_search_page_reads_with_scripts_off(chromium: Browser, url: str, home: Path, job: str) -> None:
    with chromium.new_context(base_url=url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/search")
        page.locator("[name=suspected]").fill("battery")
        page.locator("[name=ended]").select_option("cleared")
        page.locator(".ask-now button").click()
        expect(page.locator(".count-h")).to_have_text("1 job")
        page.locator(".keep-it [name=name]").fill("mine")
        page.locator(".keep-it button").click()
        expect(page.locator(".done-note")).to_contain_text("Kept as “mine”")
        page.locator(".switch button").click()
        expect(page.locator(".switch button")).to_contain_text("Show people's names")
        page.locator(".kept-list a").click()
        expect(page.locator(".found > li")).to_have_count(1)
    assert saved_search(home, "mine") == Wanted(suspected="battery", ended="cleared")
