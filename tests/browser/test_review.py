"""What a reviewer does, in a real browser."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from narrator.language.shop_words import read_shop_words
from narrator.session import current_record
from narrator.store import Reader
from narrator.store.review import ReviewReader
from tests.review.helpers import put_job

pytestmark = pytest.mark.browser


def sign(page: Page, name: str = "Ana") -> None:
    page.evaluate("name => localStorage.setItem('who', name)", name)


def press(page: Page, key: str) -> None:
    """Press a key as a person does: once the page is there, for its script to hear it."""
    page.wait_for_load_state()
    page.keyboard.press(key)


def until(page: Page, true: str, arg: object = None) -> None:
    """Wait for a script to give true; the page's policy forbids Playwright's own way of waiting."""
    for _ in range(200):
        if page.evaluate(true, arg):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never came true: {true}")


def test_the_board_is_searched_and_narrowed(page: Page, home: Path, job: str) -> None:
    put_job(home, ("the mower will not start",), vehicle="2019 Halden Scythe", sound=False, ended=False)
    page.goto("/")
    expect(page.locator(".docket")).to_have_count(2)
    press(page, "/")
    page.keyboard.type("linnet")
    press(page, "Enter")
    expect(page.locator(".docket")).to_have_count(1)
    expect(page.locator(".docket")).to_contain_text("2011 Torvane Linnet")
    page.goto("/")
    press(page, "1")
    expect(page.locator(".docket")).to_contain_text("2019 Halden Scythe")
    expect(page.locator(".docket")).to_contain_text("being narrated")


def test_the_sound_of_a_line_is_played_from_half_a_second_before_it(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}")
    page.locator("#tape #u4 [data-row]").focus()
    press(page, "p")
    until(page, "document.getElementById('audio').currentTime > 18.3")
    seen = page.evaluate("document.getElementById('audio').currentTime")
    assert 18.0 <= seen < 20.0, "line 4 begins at 18.5"
    until(page, f"document.getElementById('audio').currentTime > {seen} + 0.5")
    expect(page.locator(".now-word")).to_have_count(1)
    first = page.locator(".now-word").inner_text()
    until(page, "word => document.querySelector('.now-word')?.innerText !== word", first)
    expect(page.locator("#tape #u4.playing")).to_have_count(1)
    press(page, "p")
    assert page.evaluate("document.getElementById('audio').paused")


def test_playing_stops_at_the_end_of_the_line(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}")
    page.locator("#tape #u2 .at").click()
    until(page, "document.getElementById('audio').currentTime > 6.2")
    page.evaluate("document.getElementById('audio').currentTime = 11.5")
    until(page, "document.getElementById('audio').paused")
    assert page.evaluate("document.getElementById('audio').currentTime") < 13


def test_a_line_of_the_sheet_is_corrected_in_place_and_the_record_changes(
    page: Page, home: Path, job: str
) -> None:
    page.goto(f"/jobs/{job}")
    page.locator("#work [data-row]", has_text="ground strap on with").click()
    form = page.locator("form.editor")
    expect(form.locator(".was")).to_contain_text("with one ten mil bolt")
    form.locator("textarea").fill("new ground strap on with two ten mil bolts")
    form.locator("[name=who]").fill("Ana")
    press(page, "Control+Enter")
    expect(page.locator("#told-h")).to_contain_text("line 9")
    expect(page.locator(".outcome ins").first).to_be_visible()
    assert [(f.removed, f.installed) for f in current_record(home, job).fasteners] == [(2, 2)]
    with Reader(home) as reader:
        (made,) = reader.facts(job).corrections
    assert (made.who, made.utterance) == ("Ana", 9)
    with page.expect_navigation():
        press(page, "u")
    expect(page.locator("#u9")).not_to_contain_text("heard:")
    assert [(f.removed, f.installed) for f in current_record(home, job).fasteners] == [(2, 1)]


def test_a_corrected_word_is_taught_with_one_key(page: Page, home: Path, job: str) -> None:
    page.goto(f"/jobs/{job}")
    sign(page)
    page.locator("#u6 [data-row]").click()
    page.locator("form.editor textarea").fill("the flobber valve looks tired as well")
    press(page, "Control+Enter")
    expect(page.locator(".teach [name=word]")).to_have_value("flobber")
    press(page, "v")
    page.wait_for_url("**word=flobber")
    (word,) = read_shop_words(home / "vocabulary.toml")
    assert (word.name, word.sounds_like) == ("flobber", ("gronkle",))


def test_a_deed_that_asked_for_a_name_is_done_once_it_is_there(page: Page, home: Path, job: str) -> None:
    page.goto(f"/jobs/{job}/looks")
    press(page, "d")
    expect(page.locator("form.judge [name=who]")).to_be_focused()
    page.keyboard.type("Ana")
    with page.expect_navigation():
        press(page, "Enter")
    with ReviewReader(home) as reader:
        assert [one.decision for one in reader.looks(job) if not one.open] == ["dismissed"]


def test_the_queue_is_worked_off_by_keyboard_alone(page: Page, home: Path, job: str) -> None:
    page.goto(f"/jobs/{job}")
    sign(page)
    press(page, "n")
    page.wait_for_url("**/looks")
    left = int(page.locator(".count").inner_text().split()[0])
    assert left >= 3
    first = page.locator(".reason").inner_text()
    press(page, "n")
    expect(page.locator(".reason")).not_to_have_text(first)
    press(page, "k")
    expect(page.locator(".reason")).to_have_text(first)
    press(page, "a")
    expect(page.locator(".count")).to_contain_text(f"{left - 1} of")
    press(page, "d")
    expect(page.locator(".count")).to_contain_text(f"{left - 2} of")
    press(page, "c")
    press(page, "Control+A")
    page.keyboard.type("it reads like this now")
    press(page, "Control+Enter")
    expect(page.locator(".outcome")).to_contain_text("What your correction did")
    with Reader(home) as reader:
        assert [c.text for c in reader.facts(job).corrections] == ["it reads like this now"]


def test_approve_lock_and_open_again(page: Page, home: Path, job: str) -> None:
    page.goto(f"/jobs/{job}")
    press(page, "a")
    page.wait_for_url("**/approval")
    page.locator("[name=who]").fill("Ana")
    page.locator("[name=checked]").check()
    page.locator("button", has_text="Approve and lock").click()
    expect(page.locator(".stamp")).to_contain_text("Approved by Ana")
    page.locator("#u2 [data-row]").click()
    expect(page.locator("main")).to_contain_text("approved and locked")
    page.goto(f"/jobs/{job}/approval")
    page.locator("[name=reason]").fill("a bolt was left over")
    page.locator("button", has_text="revision 2").click()
    expect(page.locator("nav").first).to_contain_text("Revision 2")
    page.locator("#u9 [data-row]").click()
    page.locator("form.editor textarea").fill("new ground strap on with two ten mil bolts")
    press(page, "Control+Enter")
    expect(page.locator("#told-h")).to_be_visible()
    page.goto(f"/jobs/{job}/revisions")
    expect(page.locator("main")).to_contain_text("From revision 1 to 2")
    expect(page.locator("ins").first).to_be_visible()


ANOTHER = """
import sys, time
from pathlib import Path
from narrator.store import Writer
from narrator.values import Utterance
with Writer(Path(sys.argv[1])) as writer:
    for n, text in enumerate(sys.argv[3:], start=100):
        writer.add_utterances(sys.argv[2], [Utterance(n, n * 1.0, n + 0.9, text)])
        time.sleep(0.3)
"""


def test_lines_appear_as_another_process_hears_them(page: Page, home: Path, job: str) -> None:
    live = put_job(home, ("okay recording",), ended=False, sound=False)
    page.goto(f"/jobs/{live}")
    said = ["two ten mil bolts come off", "<b id=bad>bold</b>"]
    subprocess.run([sys.executable, "-c", ANOTHER, str(home), live, *said], check=True)
    expect(page.locator("#tape #u100")).to_contain_text(said[0])
    expect(page.locator("#tape #u101")).to_contain_text(said[1])
    expect(page.locator("#bad")).to_have_count(0)


def test_a_reviewer_is_told_of_the_others_change(page: Page, chromium: Browser, url: str, job: str) -> None:
    page.goto(f"/jobs/{job}")
    page.locator("#u2 [data-row]").click()
    page.locator("form.editor textarea").fill("what ben typed")
    page.locator("form.editor [name=who]").fill("Ben")
    with chromium.new_context(base_url=url) as other:
        ana = other.new_page()
        ana.goto(f"/jobs/{job}/lines/2")
        ana.locator("textarea").fill("what ana typed")
        ana.locator("[name=who]").first.fill("Ana")
        ana.locator("button", has_text="Save").click()
        expect(ana.locator("#told-h")).to_be_visible()
    expect(page.locator("#fresh")).to_contain_text("Ana corrected line 2")
    press(page, "Control+Enter")
    expect(page.locator(".clash")).to_contain_text("what ana typed")
    expect(page.locator("textarea")).to_have_value("what ben typed")


def test_unsaved_words_survive_a_closed_page(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}")
    page.locator("#u2 [data-row]").click()
    page.locator("form.editor textarea").fill("half a thought")
    page.goto("/")
    page.goto(f"/jobs/{job}")
    page.locator("#u2 [data-row]").click()
    expect(page.locator("form.editor textarea")).to_have_value("half a thought")
    expect(page.locator("form.editor .kept")).to_be_visible()


def test_marks_of_the_picture_lead_to_their_lines(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}")
    mark = page.locator(".drawing a[data-go]").first
    number = mark.get_attribute("data-go")
    mark.focus()
    press(page, "Enter")
    expect(page.locator(f"#u{number} [data-row]")).to_be_focused()


def test_the_keys_are_listed_and_can_be_switched_off(page: Page, job: str) -> None:
    page.goto(f"/jobs/{job}")
    press(page, "?")
    expect(page.locator("#keylist")).to_contain_text("What needs a look")
    page.locator("#single-keys").uncheck()
    press(page, "Escape")
    press(page, "n")
    page.wait_for_timeout(200)
    assert page.url.endswith(job)


NASTY = "<script>window.bad=1</script><img src=x onerror='window.bad=1'>"


def test_script_in_dictated_text_and_file_names_does_not_run(page: Page, home: Path) -> None:
    bad = put_job(
        home, (NASTY, f"the battery {NASTY} is flat"), source=f"{NASTY}.wav", vehicle=NASTY, sound=False
    )
    for path in ("/", f"/jobs/{bad}", f"/jobs/{bad}/looks", f"/jobs/{bad}/lines/1", f"/?q={NASTY}",
                 f"/jobs/{bad}/export/sheet.html"):  # fmt: skip
        page.goto(path)
        page.wait_for_timeout(50)
        assert page.evaluate("window.bad") is None, path


def test_pages_read_with_scripts_off(chromium: Browser, url: str, home: Path, job: str) -> None:
    with chromium.new_context(base_url=url, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto("/")
        page.locator(".docket a").first.click()
        expect(page.locator("h1")).to_contain_text("2011 Torvane Linnet")
        page.locator("#u2 .text").click()
        page.locator("textarea").fill("typed without a script")
        page.locator("[name=who]").first.fill("Ana")
        page.locator("button", has_text="Save").click()
        expect(page.locator("#told-h")).to_be_visible()
        page.locator("nav a", has_text="to look at").click()
        page.locator("[name=who]").first.fill("Ana")
        page.locator("button", has_text="Right as it stands").click()
        expect(page.locator(".latest")).to_contain_text("accepted")
    assert current_record(home, job).utterances[1].corrected == "typed without a script"


def test_a_line_that_was_not_said_is_added_by_keys_at_its_place_and_taken_back(
    page: Page, home: Path, job: str
) -> None:
    page.goto(f"/jobs/{job}")
    sign(page)
    page.locator("#tape #u9 [data-row]").focus()
    press(page, "i")
    expect(page.locator("select[name=after]")).to_have_value("9")
    page.keyboard.type("the second ten mil bolt went back on the ground strap")
    page.locator("input[name=who]").fill("Ana")
    press(page, "Control+Enter")
    expect(page.locator("#tape #u9 + li#u11 .not-said")).to_contain_text("not said")
    page.locator("#tape #u11 [data-row]").focus()
    press(page, "p")
    assert page.evaluate("document.getElementById('audio').paused"), "no sound is behind it"
    press(page, "u")
    expect(page.locator("#tape #u11.struck")).to_have_count(1)
    assert [row.id for row in current_record(home, job).utterances if row.added and row.struck] == [11]
