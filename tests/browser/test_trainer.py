"""What a trainer does, in a real browser: asks many jobs, keeps what was asked, replays one."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from narrator.store.finding import Wanted
from narrator.training.lesson import kept_answers
from narrator.training.searches import saved_search, saved_searches
from tests.browser.test_review import NASTY, press, until
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


def test_a_job_is_replayed_by_keyboard_alone(page: Page, home: Path, job: str) -> None:
    page.goto(f"/jobs/{job}")
    press(page, "l")
    page.wait_for_url("**/replay")
    page.locator("[name=who]").fill("Mika")
    with page.expect_navigation():
        press(page, "Enter")
    expect(page.locator("h1")).to_contain_text("Decision 1")
    assert "corroded" not in page.content()
    press(page, "1")
    page.keyboard.type("the ground strap")
    page.keyboard.press("Tab")
    page.keyboard.type("voltage drop")
    with page.expect_navigation():
        press(page, "Control+Enter")
    expect(page.locator(".given").first).to_contain_text("voltage drop")
    expect(page.locator(".decided")).to_contain_text("rules out the battery")
    with page.expect_navigation():
        press(page, "b")
    expect(page.locator("textarea")).to_have_count(0)
    with page.expect_navigation():
        press(page, "n")
    press(page, "3")
    page.keyboard.type("it settles it")
    with page.expect_navigation():
        press(page, "Control+Enter")
    expect(page.locator("h1")).to_have_text("How it ended")
    expect(page.locator(".ended")).to_contain_text("ground strap")
    assert [list(kept.answers) for kept in kept_answers(home, job)] == [[1], [2]]


def test_the_sound_of_a_lesson_is_played_and_ends_where_the_decision_is(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}/replay")
    page.locator("button", has_text="Begin").click()
    expect(page.locator("h1")).to_contain_text("Decision 1")
    press(page, "p")
    until(page, "document.getElementById('audio').currentTime > 0.8")
    assert page.evaluate("document.getElementById('audio').duration") == 18
    expect(page.locator("[data-line='1'].playing")).to_have_count(1)
    press(page, "p")
    assert page.evaluate("document.getElementById('audio').paused")
    press(page, "j")
    press(page, "j")
    press(page, "Enter")
    until(page, "document.getElementById('audio').currentTime > 0.3")
    assert page.evaluate("document.getElementById('audio').duration") == 6
    expect(page.locator("#now-words")).to_contain_text("Customer says it will not crank")
    page.evaluate("document.getElementById('pace').value = '1.4'")
    page.evaluate("document.getElementById('audio').currentTime = 4.5")
    until(page, "document.getElementById('audio').ended")
    expect(page.locator(".playing")).to_have_count(0)


def test_a_case_is_printed_without_its_ending(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}/replay/case")
    page.evaluate("window.print = () => { document.title = 'printed'; }")
    press(page, "w")
    expect(page).to_have_title("printed")
    page.emulate_media(media="print", color_scheme="dark")
    expect(page.locator(".strip")).not_to_be_visible()
    expect(page.locator(".on-screen").first).not_to_be_visible()
    assert page.evaluate("getComputedStyle(document.querySelector('.told p')).color") == "rgb(0, 0, 0)"
    assert "corroded" not in page.content()


def test_a_lesson_works_with_scripts_off(chromium: Browser, url: str, home: Path, job: str) -> None:
    with chromium.new_context(base_url=url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"/jobs/{job}/replay")
        page.locator("[name=who]").fill("Noor")
        page.locator("button", has_text="Begin").click()
        page.locator("textarea").first.fill("typed without a script")
        page.locator("button", has_text="See what happened").click()
        expect(page.locator(".given").first).to_contain_text("typed without a script")
        assert page.locator("#stretch").get_attribute("href")
    assert [kept.who for kept in kept_answers(home, job)] == ["Noor"]


def test_script_in_a_lesson_does_not_run(page: Page, home: Path) -> None:
    said = (f"the lights {NASTY} flicker", "could be the battery or the ground strap",
            f"load test on the battery it holds so that rules out the battery {NASTY}")  # fmt: skip
    bad = put_job(home, said, vehicle=NASTY, sound=False)
    page.goto(f"/jobs/{bad}/replay")
    page.locator("[name=who]").fill(NASTY[:80])
    page.locator("button", has_text="Begin").click()
    page.locator("textarea").first.fill(NASTY)
    page.locator("button", has_text="See what happened").click()
    expect(page.locator("h1")).to_have_text("How it ended")
    for end in ("", "/case", "/ending", "/answers"):
        page.goto(f"/jobs/{bad}/replay{end}")
        page.wait_for_timeout(50)
        assert page.evaluate("window.bad") is None, end
