"""A job told again on the page: no ending before it is asked for, answers kept, clips cut short."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

import pytest
import soundfile

from narrator.review.clips import cut
from narrator.session import derive
from narrator.store import Reader, Writer
from narrator.store.rows import NewSession, Sound
from narrator.training.lesson import kept_answers
from narrator.training.replay import QUESTIONS, decisions
from narrator.values import Utterance
from tests.review.helpers import Browser, put_job, spoken

NASTY = "<script>alert(1)</script> <img src=x onerror=alert(2)> \"' -->"
CAUSE = "the ground strap is corroded"
"""What only the ending tells."""


def begin(browser: Browser, job: str, **fields: object) -> str:
    """Begin a round; gives its key."""
    answer = browser.send(f"/jobs/{job}/replay", **fields)
    assert answer.status_code == 303
    return str(answer.headers["location"].split("round=")[1])


def say(browser: Browser, job: str, number: int, key: str, *texts: str):  # type: ignore[no-untyped-def]
    fields = {f"answer{n}": text for n, text in enumerate(texts, start=1)}
    return browser.send(f"/jobs/{job}/replay/{number}?round={key}", **fields)


def stops(home: Path, job: str) -> int:
    from narrator.session import current_record  # noqa: PLC0415

    return len(decisions(current_record(home, job)))


def test_the_ending_is_not_in_the_page_before_it_is_asked_for(browser: Browser, home: Path, job: str) -> None:
    last = stops(home, job)
    assert last >= 2
    shown = [browser.get(f"/jobs/{job}/replay").text]
    key = begin(browser, job, who="Mika")
    for number in range(1, last + 1):
        for ahead in range(number, last + 3):
            shown.append(browser.get(f"/jobs/{job}/replay/{ahead}?round={key}").text)
        say(browser, job, number, key, "the battery", "load it", "it drops")
    for html in (*shown, browser.get(f"/jobs/{job}/replay/case").text):
        assert CAUSE not in html and "New ground strap" not in html and "confirmed" not in html
    assert "rules out the battery" not in shown[1] and "rules out the battery" in shown[-1]
    end = browser.get(f"/jobs/{job}/replay/{last + 1}?round={key}").text
    assert CAUSE in end and "It cranks every time now" in end, "all of the rest is told"
    assert re.search(r"<dt>ground strap</dt><dd>confirmed</dd>", end)
    assert re.search(r"<dt>battery</dt><dd>cleared</dd>", end)
    assert CAUSE in browser.get(f"/jobs/{job}/replay/ending").text


def test_answers_are_kept_where_the_command_keeps_them(browser: Browser, home: Path, job: str) -> None:
    key = begin(browser, job, who="Mika")
    assert say(browser, job, 1, key, "the strap", "voltage drop", "bad over 0.2 V").status_code == 303
    (kept,) = kept_answers(home, job)
    assert (kept.who, list(kept.answers)) == ("Mika", [1])
    assert list(kept.answers[1].items())[1] == (QUESTIONS[1], "voltage drop")
    row = json.loads((home / "lessons" / f"{job}.jsonl").read_text(encoding="utf-8"))
    assert set(row) == {"who", "when", "answers"}
    html = browser.get(f"/jobs/{job}/replay/2?round={key}").text
    assert "What you said at decision 1" in html and "bad over 0.2 V" in html
    say(browser, job, 1, key, "I knew it all along")
    assert len(list(kept_answers(home, job))) == 1, "a first answer is never replaced"
    assert "Mika: 1 of" in browser.get(f"/jobs/{job}/replay").text
    answers = browser.get(f"/jobs/{job}/replay/answers").text
    assert "Mika" in answers and "voltage drop" in answers and CAUSE in answers


def test_without_a_name_nothing_is_kept(browser: Browser, home: Path, job: str) -> None:
    key = begin(browser, job, who="")
    assert say(browser, job, 1, key, "the strap").status_code == 303
    assert list(kept_answers(home, job)) == []
    assert "the strap" in browser.get(f"/jobs/{job}/replay/2?round={key}").text


def test_a_trainee_goes_on_where_they_stopped(browser: Browser, home: Path, job: str) -> None:
    say(browser, job, 1, begin(browser, job, who="Mika"), "one thing")
    lost = browser.get(f"/jobs/{job}/replay/2?round=unknown").text
    assert "not known any more" in lost and "What happened" not in lost
    assert say(browser, job, 2, "unknown", "x").status_code == 409
    again = browser.send(f"/jobs/{job}/replay", who="Mika", how="on").headers["location"]
    assert "/replay/2?" in again and "one thing" in browser.get(again).text
    other = browser.send(f"/jobs/{job}/replay", who="Noor", how="on").headers["location"]
    assert "/replay/1?" in other


def test_a_round_belongs_to_its_job(browser: Browser, home: Path, job: str) -> None:
    other = put_job(home, sound=False)
    key = begin(browser, job)
    assert "not known any more" in browser.get(f"/jobs/{other}/replay/1?round={key}").text
    assert say(browser, other, 1, key, "x").status_code == 409
    assert say(browser, job, 2, key, "x").status_code == 409, "not reached yet"
    assert say(browser, job, 0, key, "x").status_code == 409


def test_sound_goes_up_to_the_decision_and_no_further(browser: Browser, home: Path, job: str) -> None:
    key = begin(browser, job)
    path = f"/jobs/{job}/replay/1/sound"
    answer = browser.get(f"{path}?round={key}")
    assert answer.headers["content-type"] == "audio/wav"
    samples, rate = soundfile.read(io.BytesIO(answer.content), dtype="int16")
    whole, _ = soundfile.read(home / "sound" / job / "sound.flac", dtype="int16")
    assert len(samples) / rate == pytest.approx(18.0), (
        "0.5 s after line 3, that ends at 17.5; line 4 is at 18.5"
    )
    assert (samples == whole[: len(samples)]).all()
    line = browser.get(f"{path}/2?round={key}")
    samples, _ = soundfile.read(io.BytesIO(line.content), dtype="int16")
    assert (samples == whole[6 * rate : 12 * rate]).all()
    for hidden in (f"{path}/4?round={key}", f"{path}/99?round={key}",
                   f"/jobs/{job}/replay/2/sound?round={key}", path, f"{path}?round=x",
                   f"{path}/2"):  # fmt: skip
        assert browser.get(hidden).status_code == 404, hidden
    assert browser.get(f"{path}?round={key}").headers["content-length"] == str(len(answer.content))


def test_sound_that_is_gone_or_elsewhere_is_told_of(browser: Browser, home: Path, job: str) -> None:
    key = begin(browser, job)
    (home / "sound" / job / "sound.flac").write_bytes(b"no sound")
    assert browser.get(f"/jobs/{job}/replay/1/sound?round={key}").status_code == 404
    with Writer(home) as writer:
        writer.add_sound(job, Sound("../../narrator.db", 60.0, "0" * 64))
    assert browser.get(f"/jobs/{job}/replay/1/sound?round={key}").status_code == 404


def test_a_cut_goes_over_several_files(tmp_path: Path) -> None:
    import numpy as np  # noqa: PLC0415

    for name, seconds, rate in (("a.wav", 10, 8000), ("b.wav", 10, 8000), ("c.wav", 10, 16000)):
        soundfile.write(tmp_path / name, np.zeros(seconds * rate), rate)
    files = [(0.0, tmp_path / "a.wav"), (12.0, tmp_path / "b.wav"), (30.0, tmp_path / "c.wav")]
    found = [(p.path.name, p.first / p.rate, p.last / p.rate) for p in cut(files, 8.0, 14.0)]
    assert found == [("a.wav", 8.0, 10.0), ("b.wav", 0.0, 2.0)]
    assert [p.path.name for p in cut(files, 20.0, 35.0)] == ["b.wav"], "of another rate"
    assert cut(files, 23.0, 29.0) == []


def test_a_job_without_a_decision_is_no_lesson(browser: Browser, home: Path) -> None:
    plain = put_job(home, ("okay recording",), sound=False)
    for end in ("", "/case", "/ending", "/1"):
        answer = browser.get(f"/jobs/{plain}/replay{end}")
        assert answer.status_code == 404 and "nothing was suspected or tested" in answer.text


def test_a_job_without_sound_is_told_in_words(browser: Browser, home: Path) -> None:
    mute = put_job(home, sound=False)
    key = begin(browser, mute)
    html = browser.get(f"/jobs/{mute}/replay/1?round={key}").text
    assert "Could be the battery" in html and "/sound" not in html
    assert browser.get(f"/jobs/{mute}/replay/1/sound?round={key}").status_code == 404


def test_names_are_hidden_in_a_replay(browser: Browser, home: Path) -> None:
    said = ("zenobia says the lights flicker", "could be the battery or the ground strap",
            "load test on the battery it holds so that rules out the battery",
            "zenobia here that is it the ground strap")  # fmt: skip
    with Writer(home) as writer:
        ident = writer.start_session(NewSession("2031-05-06T09:00:00+01:00", "x.flac", "hand"))
        writer.add_utterances(
            ident, [Utterance(u.id, u.start, u.end, u.text, (), "Zenobia") for u in spoken(said)]
        )
        writer.end_session(ident, "2031-05-06T09:10:00+01:00", 30.0)
        derive(writer, ident)
    key = begin(browser, ident, who="Zenobia")
    say(browser, ident, 1, key, "x")
    assert "zenobia" not in browser.get(f"/jobs/{ident}/replay/case").text.lower(), "paper leaves the house"
    assert "Zenobia here" in browser.get(f"/jobs/{ident}/replay/answers").text
    browser.client.cookies.set("narrator_names", "hidden")
    last = stops(home, ident)
    for number in range(2, last + 1):
        say(browser, ident, number, key, "x")
    ends = ("", "/case", "/ending", "/answers", *(f"/{n}?round={key}" for n in range(1, last + 2)))
    for end in ends:
        html = browser.get(f"/jobs/{ident}/replay{end}").text
        assert not re.search("zenobia", html, re.IGNORECASE), end
    assert "Person 1 says the lights flicker" in browser.get(f"/jobs/{ident}/replay/case").text
    back = f"/jobs/{ident}/replay/1?round={key}"
    assert browser.send("/names", names="shown", back=back).headers["location"] == back


def test_script_in_a_replay_stays_text(browser: Browser, home: Path) -> None:
    said = (f"the lights {NASTY} flicker", "could be the battery or the ground strap",
            f"load test on the battery it holds so that rules out the battery {NASTY}",
            f"it is the strap {NASTY}")  # fmt: skip
    bad = put_job(home, said, source=f"{NASTY}.wav", vehicle=NASTY, sound=False)
    key = begin(browser, bad, who=NASTY)
    last = stops(home, bad)
    for number in range(1, last + 1):
        say(browser, bad, number, key, NASTY, NASTY, NASTY)
    for end in ("", "/case", "/ending", "/answers", *(f"/{n}?round={key}" for n in range(1, last + 2))):
        html = browser.get(f"/jobs/{bad}/replay{end}").text
        assert not re.search(r"<script>alert|<img src=x", html), end
        assert "&lt;script&gt;" in html or "script alert 1" in html, end
        assert not re.search(r"\son\w+=|style=", html.split("<body", 1)[1].replace("onerror=alert(2)", ""))


def test_long_answers_are_refused_and_nothing_is_kept(browser: Browser, home: Path, job: str) -> None:
    key = begin(browser, job, who="Mika")
    assert say(browser, job, 1, key, "a" * 501).status_code == 413
    assert list(kept_answers(home, job)) == []
    assert "What you said here" not in browser.get(f"/jobs/{job}/replay/1?round={key}").text


def test_forgetting_a_job_forgets_its_answers(browser: Browser, home: Path, job: str) -> None:
    say(browser, job, 1, begin(browser, job, who="Mika"), "the strap")
    assert (home / "lessons" / f"{job}.jsonl").exists()
    with Writer(home) as writer:
        writer.forget(job)
    assert not (home / "lessons" / f"{job}.jsonl").exists()
    with Reader(home) as reader:
        assert job not in [row.id for row in reader.sessions()]


def test_a_torn_line_of_answers_is_passed_over(browser: Browser, home: Path, job: str) -> None:
    say(browser, job, 1, begin(browser, job, who="Mika"), "the strap")
    with (home / "lessons" / f"{job}.jsonl").open("a") as file:
        file.write('{"who": "Noor", "whe\n[]\n{"who": 1, "when": 2, "answers": {"x": {}}}\n')
    assert [kept.who for kept in kept_answers(home, job)] == ["Mika"]
    assert browser.get(f"/jobs/{job}/replay").status_code == 200
