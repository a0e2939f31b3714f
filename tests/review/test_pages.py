"""What the pages show and change, through the application itself, without a browser."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from filelock import FileLock

from narrator.language.shop_words import read_shop_words
from narrator.session import current_record
from narrator.store import Reader
from narrator.store.alive import LISTENING, TAPE
from narrator.store.erase import sound_folder
from tests.review.helpers import Browser, put_job


def test_every_page_answers(browser: Browser, job: str) -> None:
    of_job = ("", "/looks", "/lines/3", "/added", "/approval", "/revisions", "/export/sheet.html")
    for path in ("/", "/keys", *(f"/jobs/{job}{end}" for end in of_job)):
        answer = browser.get(path)
        assert answer.status_code == 200, (path, answer.text[:300])
        assert answer.headers["content-type"].startswith("text/html")
    assert "2011 Torvane Linnet" in browser.get("/").text


def test_exports_are_the_sheet(browser: Browser, job: str) -> None:
    assert browser.get(f"/jobs/{job}/export/sheet.pdf").content.startswith(b"%PDF")
    assert browser.get(f"/jobs/{job}/export/record.json").json()["contract"] == 1
    assert "ground strap" in browser.get(f"/jobs/{job}/export/sheet.md").text
    assert browser.get(f"/jobs/{job}/export/words.vtt").text.startswith("WEBVTT")
    assert browser.get(f"/jobs/{job}/export/other.exe").status_code == 404


def test_a_correction_changes_the_record_and_is_shown(browser: Browser, home: Path, job: str) -> None:
    answer = browser.send(f"/jobs/{job}/lines/9", who="Ana", seen=0,
                          text="new ground strap on with two ten mil bolts")  # fmt: skip
    assert answer.status_code == 303 and answer.headers["location"].endswith("#u9")
    shown = browser.get(answer.headers["location"]).text
    assert "What the change to line 9 did" in shown and "<del>" in shown and "<ins>" in shown
    record = current_record(home, job)
    assert [(f.removed, f.installed) for f in record.fasteners] == [(2, 2)]
    line = browser.get(f"/jobs/{job}/lines/9").text
    assert "Ana" in line and "with one ten mil bolt" in line


def test_undo_brings_back_what_was_before(browser: Browser, home: Path, job: str) -> None:
    browser.send(f"/jobs/{job}/lines/2", who="Ana", seen=0, text="first")
    browser.send(f"/jobs/{job}/lines/2", who="Ana", seen=1, text="second")
    for expected in ("first", None, None):
        browser.send(f"/jobs/{job}/lines/2/undo", who="Ben")
        assert current_record(home, job).utterances[1].corrected == expected
    with Reader(home) as reader:
        assert [c.text for c in reader.facts(job).corrections][:3] == ["first", "second", "first"]


def test_two_reviewers_are_told_of_each_other(browser: Browser, home: Path, job: str) -> None:
    browser.send(f"/jobs/{job}/lines/2", who="Ana", seen=0, text="ana was faster")
    answer = browser.send(f"/jobs/{job}/lines/2", who="Ben", seen=0, text="ben typed this")
    assert answer.status_code == 409
    assert "Ana changed this line" in answer.text and "ana was faster" in answer.text
    assert "ben typed this</textarea>" in answer.text, "what Ben typed is kept in the form"
    assert current_record(home, job).utterances[1].corrected == "ana was faster"


def test_a_struck_line_leaves_the_sheet_and_comes_back(browser: Browser, home: Path, job: str) -> None:
    browser.send(f"/jobs/{job}/lines/6/strike", who="Ana", struck="yes")
    assert current_record(home, job).utterances[5].struck
    browser.send(f"/jobs/{job}/lines/6/strike", who="Ana", struck="no")
    assert not current_record(home, job).utterances[5].struck


def test_a_word_taught_is_known_to_the_next_session(browser: Browser, home: Path, job: str) -> None:
    unknown = f"/jobs/{job}/looks"
    assert "gronkle" in browser.get(unknown).text
    answer = browser.send(
        f"/jobs/{job}/words", who="Ana", word="gronkle valve", heard="gronkle valve", kind="component"
    )
    assert answer.status_code == 303
    assert [w.name for w in read_shop_words(home / "vocabulary.toml")] == ["gronkle valve"]
    other = put_job(home, ("the gronkle valve is stuck",), sound=False)
    (row,) = current_record(home, other).utterances
    assert {"gronkle valve"} == {e["name"] for e in row.entities if e["type"] == "component"}
    assert "“gronkle”" not in browser.get(f"/jobs/{other}/looks").text


def test_the_queue_walks_through_all_that_wants_a_look(browser: Browser, job: str) -> None:
    left = int(re.findall(r"(\d+) of \d+ still to look at", browser.get(f"/jobs/{job}/looks").text)[0])
    assert left >= 2
    for n in range(left):
        text = browser.get(f"/jobs/{job}/looks").text
        look = re.findall(r'name="look" value="([^"]+)"', text)[0]
        decided = browser.send(
            f"/jobs/{job}/looks", look=look, who="Ana", decision=("accept", "dismiss")[n % 2]
        )
        assert decided.status_code == 303
    assert "Nothing left to look at" in browser.get(f"/jobs/{job}/looks").text
    before_signing = browser.get(f"/jobs/{job}/approval").text
    assert "Everything that asked for a look has had one" in before_signing
    assert "to look at." not in before_signing, "the sheet counts what asked for a look, not what is left"
    browser.send(f"/jobs/{job}/looks", look=look, who="Ana", decision="undo")
    assert "1 of" in browser.get(f"/jobs/{job}/looks").text
    assert browser.send(f"/jobs/{job}/looks", look="no.such", who="Ana", decision="accept").status_code == 409


def approve(browser: Browser, job: str, who: str = "Ana"):  # type: ignore[no-untyped-def]
    (digest,) = re.findall(r'name="sha256" value="([0-9a-f]{64})"', browser.get(f"/jobs/{job}/approval").text)
    return browser.send(f"/jobs/{job}/approval", who=who, sha256=digest, checked="yes")


def test_approve_lock_reopen_and_compare(browser: Browser, home: Path, job: str) -> None:
    before = browser.get(f"/jobs/{job}/export/record.json").text
    assert browser.send(f"/jobs/{job}/approval", who="Ana", sha256="0" * 64, checked="yes").status_code == 409
    assert approve(browser, job).status_code == 303
    assert "Approved" in browser.get(f"/jobs/{job}").text
    assert browser.send(f"/jobs/{job}/lines/2", who="Ben", seen=0, text="x").status_code == 409
    assert browser.send(f"/jobs/{job}/lines/2/strike", who="Ben", struck="yes").status_code == 409
    assert browser.send(f"/jobs/{job}/reopen", who="Ben", reason="").status_code == 400
    assert browser.send(f"/jobs/{job}/reopen", who="Ben", reason="a bolt").status_code == 303
    browser.send(f"/jobs/{job}/lines/9", who="Ben", seen=0, text="new ground strap on with two ten mil bolts")
    assert approve(browser, job, "Cai").status_code == 303
    shown = browser.get(f"/jobs/{job}/revisions").text
    assert "From revision 1 to 2" in shown and "<ins>" in shown and "a bolt" in shown
    assert browser.get(f"/jobs/{job}/export/record.json").text != before


def test_a_job_being_narrated_is_not_approved(browser: Browser, home: Path) -> None:
    live = put_job(home, ended=False, sound=False)
    assert approve(browser, live).status_code == 409
    assert "being narrated" in browser.get("/?state=live").text


def test_a_job_that_broke_off_is_told_from_one_being_narrated(browser: Browser, home: Path) -> None:
    assert "broke off" not in browser.get("/").text
    job = put_job(home, ended=False, sound=False)
    folder = sound_folder(home, job)
    folder.mkdir(parents=True)
    (folder / TAPE).touch()
    with FileLock(home / LISTENING):
        assert "being narrated" in browser.get("/?state=live").text
        assert "Being narrated." in browser.get(f"/jobs/{job}").text
    board = browser.get("/?state=broken").text
    assert "1 job broke off" in board and "Start “narrator listen”" in board and f"/jobs/{job}" in board
    assert "It broke off." in browser.get(f"/jobs/{job}").text
    refused = approve(browser, job)
    assert refused.status_code == 409 and "broke off" in refused.text and "narrator listen" in refused.text


def test_a_line_that_was_not_said_is_added_marked_and_taken_back(
    browser: Browser, home: Path, job: str
) -> None:
    form = browser.get(f"/jobs/{job}/added?after=9").text
    assert '<option value="9" selected>' in form and '<option value="0">' in form
    assert '<option value="10" selected>' in browser.get(f"/jobs/{job}/added?after=77").text, (
        "else after the last"
    )
    told = "the second ten mil bolt went back on the ground strap"
    assert browser.send(f"/jobs/{job}/added", who="Ana", after=9, text=" ").status_code == 400
    assert browser.send(f"/jobs/{job}/added", who="Ana", after=9, text="?!").status_code == 400
    assert browser.send(f"/jobs/{job}/added", who="", after=9, text=told).status_code == 400
    assert browser.send(f"/jobs/{job}/added", who="Ana", after=77, text=told).status_code == 404
    answer = browser.send(f"/jobs/{job}/added", who="Ana", after=9, text=told, reason="on the phone")
    assert answer.status_code == 303 and answer.headers["location"].endswith("#u11")
    shown = browser.get(answer.headers["location"]).text
    assert "What the change to line 11 did" in shown and "Take it back" in shown
    tape = shown[shown.index('<ol id="tape">') :]
    assert tape.index('id="u9"') < tape.index('id="u11"') < tape.index('id="u10"')
    row = tape[tape.index('id="u11"') : tape.index('id="u10"')]
    assert "added by a person, not said" in row and "data-play" not in row and "data-added" in row
    record = current_record(home, job)
    assert [(f.removed, f.installed) for f in record.fasteners] == [(2, 2)]
    line = browser.get(f"/jobs/{job}/lines/11").text
    assert "added it after line 9 (on the phone)" in line and "Hear it" not in line
    assert "Added by a person, not said" in browser.get(f"/jobs/{job}/export/sheet.html").text
    assert told not in browser.get(f"/jobs/{job}/export/words.vtt").text

    browser.send(f"/jobs/{job}/lines/11", who="Ben", seen=0, text="the second bolt is still missing")
    browser.send(f"/jobs/{job}/lines/11/undo", who="Ben")
    assert current_record(home, job).utterances[9].corrected is None, "first its correction goes"
    assert browser.send(f"/jobs/{job}/lines/11/undo", who="Ben").status_code == 303
    record = current_record(home, job)
    assert [(f.removed, f.installed) for f in record.fasteners] == [(2, 1)]
    assert [row.id for row in record.utterances if row.added and row.struck] == [11]
    assert "took it back" in browser.get(f"/jobs/{job}/lines/11").text
    browser.send(f"/jobs/{job}/lines/11/strike", who="Ben", struck="no")
    assert [(f.removed, f.installed) for f in current_record(home, job).fasteners] == [(2, 2)]

    approve(browser, job)
    assert browser.send(f"/jobs/{job}/added", who="Ana", after=9, text="too late").status_code == 409
    assert "Reopen it" in browser.get(f"/jobs/{job}/added").text


def test_a_job_being_narrated_takes_no_line(browser: Browser, home: Path) -> None:
    live = put_job(home, ended=False, sound=False)
    assert "Add a line that was not said" not in browser.get(f"/jobs/{live}").text
    refused = browser.send(f"/jobs/{live}/added", who="Ana", after=1, text="too early")
    assert refused.status_code == 409 and "has not ended yet" in refused.text


def test_sound_comes_in_ranges(browser: Browser, job: str) -> None:
    whole = browser.get(f"/jobs/{job}/sound/0")
    assert whole.status_code == 200 and whole.headers["content-type"] == "audio/flac"
    part = browser.get(f"/jobs/{job}/sound/0", headers={"range": "bytes=100-199"})
    assert part.status_code == 206 and part.content == whole.content[100:200]
    assert browser.get(f"/jobs/{job}/sound/0", headers={"range": "bytes=999999999-"}).status_code == 416
    assert browser.get(f"/jobs/{job}/sound/1").status_code == 404
    words = browser.get(f"/jobs/{job}/lines/3/words").json()
    assert [w[0] for w in words][:2] == ["could", "be"] and words[0][1] == 12.5


@pytest.mark.parametrize("typed", ["linnet", "ground strap", "bench.flac", "nothing like it"])
def test_jobs_are_found(browser: Browser, job: str, typed: str) -> None:
    found = f"/jobs/{job}" in browser.get("/", params={"q": typed}).text
    assert found == (typed != "nothing like it")
