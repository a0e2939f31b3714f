"""The search page asks what the command asks; searches are kept and dropped; names can be hidden."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from narrator.cli.search import command
from narrator.review import asking
from narrator.review.naming import Names
from narrator.session import derive
from narrator.store import Reader, Writer
from narrator.store.finding import Wanted
from narrator.store.rows import NewSession
from narrator.training.kinds import system_of
from narrator.training.searches import find_jobs, saved_search, saved_searches
from narrator.values import Utterance
from tests.review.helpers import Browser, put_job, spoken

NASTY = "<script>alert(1)</script> <img src=x onerror=alert(2)> \"' -->"


def found(html: str) -> list[str]:
    """Ids of the jobs that a page shows as found, in its order."""
    return re.findall(r'<div class="job-head"><a href="/jobs/(\w+)"', html)


def by(home: Path, who: str, text: str) -> str:
    """A job in which somebody says something."""
    with Writer(home) as writer:
        ident = writer.start_session(NewSession("2031-05-06T09:00:00+01:00", "x.flac", "hand"))
        writer.add_utterances(ident, [Utterance(1, 0.5, 3.0, text, (), who)])
        writer.end_session(ident, "2031-05-06T09:10:00+01:00", 5.0)
        derive(writer, ident)
    return ident


@pytest.mark.parametrize(("asked", "hit"), [
    ({"suspected": "battery", "ended": "cleared"}, True),
    ({"suspected": "battery", "ended": "confirmed"}, False),
    ({"confirmed": "ground strap", "no_code": "yes"}, True),
    ({"tested": "voltage drop"}, True),
    ({"tested": "compression"}, False),
    ({"said": "gronkle valve", "suspected": "strap"}, True),
    ({"concern": "crank hot"}, True),
    ({"vehicle": "linnet", "verified": "pass"}, True),
    ({"fitted": "strap"}, True),
    ({"since": "2031-03-04", "until": "2031-03-04", "vehicle": "linnet"}, True),
    ({"since": "2031-03-05", "vehicle": "linnet"}, False),
    ({"system": system_of("battery")}, True),
    ({"system": "brakes"}, False),
])  # fmt: skip
def test_the_page_finds_what_the_command_finds(
    browser: Browser, home: Path, job: str, asked: dict[str, str], hit: bool
) -> None:
    put_job(home, ("the mower will not start",), vehicle="2019 Halden Scythe", sound=False)
    shown = found(browser.get("/search", params=asked).text)
    wanted, wrong = asking.read(asked, Names([], False))
    with Reader(home) as reader:
        assert shown == [one.session for one in find_jobs(reader, wanted).jobs]
    assert (wrong, shown) == ("", [job] if hit else [])


def test_every_condition_of_the_command_is_on_the_page(browser: Browser) -> None:
    html = browser.get("/search").text
    options = {p.name for p in command.params} & set(Wanted.__dataclass_fields__)
    on_page = set(re.findall(r'<(?:input|select)[^>]*? name="(\w+)"', html))
    assert options | {"said"} <= on_page


def test_the_line_that_matched_is_shown_and_linked(browser: Browser, job: str) -> None:
    html = browser.get("/search?confirmed=ground+strap").text
    assert f'href="/jobs/{job}#u8"' in html
    assert "That is it the <mark>ground</mark> <mark>strap</mark> is corroded" in html
    assert f'href="/jobs/{job}/replay"' in html


@pytest.mark.parametrize(("line", "asked", "marked"), [
    ("both straps are loose", {"said": "strap loosed"}, ["straps", "loose"]),
    ("The Ground strap", {"confirmed": "ground"}, ["Ground"]),
    ("an overground", {"said": "ground"}, []),
    ("a to z", {"said": "a"}, ["a"]),
    ("nothing asked", {}, []),
])  # fmt: skip
def test_words_asked_for_are_marked(line: str, asked: dict[str, str], marked: list[str]) -> None:
    pieces = asking.marked(line, Wanted(**asked))  # type: ignore[arg-type]
    assert "".join(piece for piece, _ in pieces) == line
    assert [piece for piece, hit in pieces if hit] == marked


def test_a_search_is_kept_run_again_and_dropped(browser: Browser, home: Path, job: str) -> None:
    answer = browser.send("/searches", name="Cleared batteries", suspected="battery", ended="cleared")
    assert answer.status_code == 303
    assert saved_search(home, "Cleared batteries") == Wanted(suspected="battery", ended="cleared")
    html = browser.get(answer.headers["location"]).text
    assert "Kept as “Cleared batteries”" in html
    (run,) = re.findall(r'<li><a href="(/search[^"]*)#found" data-row><strong>Cleared', html)
    assert found(browser.get(run.replace("&amp;", "&")).text) == [job]
    dropped = browser.send("/searches/drop", name="Cleared batteries")
    assert saved_searches(home) == {}
    again = browser.get(dropped.headers["location"]).text
    assert "“Cleared batteries” is dropped" in again and 'value="Cleared batteries"' in again
    assert found(again) == [job], "what it asked is shown, to be kept again"
    assert browser.send("/searches/drop", name="Cleared batteries").status_code == 404


def test_a_kept_search_is_not_replaced_by_chance(browser: Browser, home: Path) -> None:
    browser.send("/searches", name="mine", said="strap")
    clash = browser.send("/searches", name="mine", said="battery")
    assert clash.status_code == 409 and "There is another search of the name “mine”" in clash.text
    assert saved_search(home, "mine") == Wanted(said="strap")
    assert browser.send("/searches", name="mine", said="strap").status_code == 303, (
        "the same again is no clash"
    )
    assert browser.send("/searches", name="mine", said="battery", replace="yes").status_code == 303
    assert saved_search(home, "mine") == Wanted(said="battery")


@pytest.mark.parametrize("given", [
    {"name": "", "said": "x"}, {"name": "x"}, {"name": "x", "since": "yesterday"},
    {"name": "x", "ended": "odd"},
])  # fmt: skip
def test_what_asks_nothing_is_not_kept(browser: Browser, home: Path, given: dict[str, str]) -> None:
    assert browser.send("/searches", **given).status_code == 400
    assert saved_searches(home) == {}


@pytest.mark.parametrize(("query", "told"), [
    ("said=%3F%21", "holds no word"), ("since=2031-02-30", "is no day"), ("until=20310304", "is no day"),
    ("since=2031-03-05&until=2031-03-04", "later than the last"),
    ("ended=odd", "There is no choice “odd”"), ("system=odd", "There is no choice “odd”"),
])  # fmt: skip
def test_what_cannot_be_asked_is_told(browser: Browser, query: str, told: str) -> None:
    answer = browser.get(f"/search?{query}")
    assert answer.status_code == 200
    assert told in answer.text and 'role="alert"' in answer.text
    assert not found(answer.text)


def test_results_come_a_page_at_a_time(browser: Browser, home: Path, job: str) -> None:
    with Writer(home) as writer:
        for n in range(24):
            ident = writer.start_session(NewSession(f"2031-04-01T09:00:{n:02}+01:00", None, "hand"))
            writer.add_utterances(ident, spoken(("it is a zebra strap",)))
            derive(writer, ident)
    first = browser.get("/search?said=zebra").text
    second = browser.get("/search?said=zebra&page=2").text
    assert "24 jobs, page 1 of 2" in first
    assert (len(found(first)), len(found(second))) == (20, 4)
    assert not set(found(first)) & set(found(second))
    assert "/search?said=zebra&amp;page=2#found" in first
    for odd in ("0", "-1", "x", "9" * 9, "²"):
        assert browser.get("/search", params={"said": "zebra", "page": odd}).status_code == 200


def test_names_of_people_can_be_hidden(browser: Browser, home: Path) -> None:
    one = by(home, "Zenobia", "zenobia here the ground strap is loose number plate is k x four seven one")
    two = by(home, "Quentin", "the ground strap is loose")
    open_page = browser.get("/search?said=loose").text
    assert "Zenobia" in open_page and found(browser.get("/search?person=Quentin").text) == [two]
    browser.send("/searches", name="hers", person="Zenobia")
    answer = browser.send("/names", names="hidden", back="/search?said=loose&person=Zenobia")
    assert answer.status_code == 303
    assert "samesite=strict" in answer.headers["set-cookie"].lower()
    browser.client.cookies.set("narrator_names", "hidden")
    to = answer.headers["location"]
    assert "Zenobia" not in to and to.startswith("/search?said=loose&person=Person+")
    hidden = browser.get(to).text
    assert found(hidden) == [one]
    whole = hidden + browser.get("/search?said=loose").text
    assert not re.search("zenobia|quentin|four seven one", whole, re.IGNORECASE)
    assert re.search(r"Person \d here the ground", re.sub("</?mark>", "", whole))
    assert "[plate]" in whole
    alias = re.findall(r"selected>(Person \d)", hidden)[0]
    browser.send("/searches", name="hidden hers", person=alias)
    assert saved_search(home, "hidden hers") == Wanted(person="Zenobia") == saved_search(home, "hers")
    back = browser.send("/names", names="shown", back=to)
    assert "person=Zenobia" in back.headers["location"] and "narrator_names=" in back.headers["set-cookie"]


@pytest.mark.parametrize("back", [
    "//evil.example/search", "http://evil.example/search", "/", "/jobs/x/replay", "/search/../x",
    "javascript:1", "", "\\\\evil.example/search",
])  # fmt: skip
def test_the_switch_leads_nowhere_else(browser: Browser, back: str) -> None:
    assert browser.send("/names", names="hidden", back=back).status_code == 400


def test_script_in_a_search_stays_text(browser: Browser, home: Path) -> None:
    bad = by(home, NASTY, f"the battery {NASTY} is flat could be the battery")
    browser.send("/searches", name=NASTY, said=NASTY)
    fields = [f for f in Wanted.__dataclass_fields__ if f not in ("no_code", "since", "until")]
    pages = [browser.get("/search").text, browser.get("/search?said=battery").text,
             browser.get("/search", params={"said": NASTY}).text,
             *(browser.get("/search", params={name: NASTY}).text for name in fields),
             browser.get("/search", params={"said": "battery", "dropped": NASTY, "told": NASTY}).text,
             browser.send("/searches", name=NASTY, said="other").text]  # fmt: skip
    assert found(pages[1])[0] == bad
    for html in pages:
        assert not re.search(r"<script>alert|<img src=x", html)
        assert "&lt;script&gt;" in html
        assert not re.search(r"\son\w+=|style=", html.split("<body", 1)[1].replace("onerror=alert(2)", ""))


def test_a_broken_file_of_searches_is_told_of(browser: Browser, home: Path) -> None:
    (home / "searches.json").write_text("{")
    answer = browser.get("/search")
    assert answer.status_code == 500 and "searches.json" in answer.text
    (home / "searches.json").write_text(json.dumps({"odd": {"ended": "odd"}}))
    assert browser.get("/search").status_code == 200
