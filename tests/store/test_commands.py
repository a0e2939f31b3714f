"""The commands around the store, as a person types them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.job.record import Record
from narrator.store import Reader, Writer
from tests.store.helpers import SAID, bytes_in
from tests.store.test_captions import cues

LINES = [
    {"id": 1, "start": 0.5, "end": 2.0, "text": "it cranks slow i suspect the ground strap"},
    {"id": 2, "start": 3.0, "end": 5.0, "text": "two ten mil bolts come off the strap"},
    {"id": 3, "start": 6.0, "end": 8.0, "text": "my <b>lunch</b> was *good* --> really & \u001b[31mred"},
]


class Shop:
    """A home of its own and a keyboard."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.home = folder / "home"

    def run(self, *arguments: str, answer: str | None = None) -> Result:
        result = CliRunner().invoke(
            cli, arguments, input=answer, env={"NARRATOR_HOME": str(self.home)}, catch_exceptions=False
        )
        return result

    def fails(self, *arguments: str) -> str:
        with pytest.raises(NarratorError) as caught:
            self.run(*arguments)
        return caught.value.code

    def add(self, *options: str) -> str:
        path = self.folder / "talk.jsonl"
        path.write_text("\n".join(json.dumps(line) for line in LINES))
        result = self.run("add", str(path), *options)
        assert result.exit_code == 0
        return result.stdout.strip()


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def test_a_session_is_added_listed_and_shown(shop: Shop) -> None:
    ident = shop.add("--vehicle", "2009 Ardenna Volo", "--started", "2031-03-04 09:00:00")
    (row,) = json.loads(shop.run("sessions", "--json").stdout)
    assert row["id"] == ident
    assert row["started"].startswith("2031-03-04T09:00:00")
    assert (row["source"], row["utterances"], row["gaps"], row["state"]) == ("talk.jsonl", 3, 0, "complete")
    assert (row["audio_seconds"], row["spoken_until"]) == (None, 8.0)
    listed = shop.run("sessions").stdout
    assert ident in listed and "2009 Ardenna Volo" in listed
    for typed in (ident, ident[:3], ident[-4:], "last", ident.upper()):
        shown = shop.run("show", typed).stdout
        assert ident in shown and "0:03" in shown and "10 mm bolt" in shown


def test_nothing_said_can_steer_the_terminal(shop: Shop) -> None:
    shop.add()
    for output in (shop.run("show", "last").stdout, shop.run("search", "lunch").stdout):
        assert "\x1b" not in output
        assert "red" in output


def test_adding_is_whole_or_not_at_all(shop: Shop) -> None:
    path = shop.folder / "broken.jsonl"
    path.write_text(json.dumps(LINES[0]) + "\n" + json.dumps(LINES[0]))
    assert shop.fails("add", str(path)) == "E310"
    path.write_text(json.dumps(LINES[0]) + "\nnot json")
    assert shop.fails("add", str(path)) == "E401"
    path.write_text("\n")
    assert shop.fails("add", str(path)) == "E402"
    assert shop.fails("add", str(shop.folder / "none.jsonl")) == "E101"
    assert json.loads(shop.run("sessions", "--json").stdout) == []


def test_lines_can_come_from_standard_input(shop: Shop) -> None:
    given = "\n".join(json.dumps(line) for line in LINES)
    assert shop.run("add", "-", answer=given).exit_code == 0
    assert json.loads(shop.run("sessions", "--json").stdout)[0]["source"] is None


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no disk that is always full")
def test_results_that_nobody_can_take_are_a_coded_error(shop: Shop) -> None:
    ident = shop.add()
    for arguments in (["show", ident], ["export", ident], ["explain", ident, "--json"]):
        with Path("/dev/full").open("w") as full:
            done = subprocess.run(
                [sys.executable, "-c", "from narrator.cli import main; main()", *arguments],
                stdout=full, stderr=subprocess.PIPE,
                env=os.environ | {"NARRATOR_HOME": str(shop.home)}, text=True, check=False,
            )  # fmt: skip
        assert done.returncode == 2
        assert done.stderr.splitlines() == [
            "E501: the output cannot be written: No space left on device",
            "  Choose another name or folder.",
        ]


@pytest.mark.skipif(sys.platform == "win32", reason="no terminal of this kind")
def test_on_a_terminal_a_command_that_takes_long_says_that_it_works(shop: Shop) -> None:
    import pty  # noqa: PLC0415 - not on every system

    ident = shop.add()
    code = "from narrator import cli; cli._PATIENCE_S = 0.0; cli.main()"
    for arguments, told in ((["show", ident], True), (["sessions"], False)):
        ours, theirs = pty.openpty()
        done = subprocess.run(
            [sys.executable, "-c", code, *arguments], stdout=subprocess.PIPE, stderr=theirs,
            env=os.environ | {"NARRATOR_HOME": str(shop.home)}, check=False,
        )  # fmt: skip
        os.write(theirs, b"end")
        assert done.returncode == 0
        assert (b"At work ..." in os.read(ours, 1000)) is told
        assert b"At work" not in done.stdout
        os.close(ours)
        os.close(theirs)


def test_no_sessions_yet(shop: Shop) -> None:
    told = shop.run("sessions")
    assert told.exit_code == 0
    assert str(shop.home) in told.stderr, "a home that was written wrong is seen"
    assert shop.run("sessions", "--json").stdout.strip() == "[]"
    for arguments in (
        ("show", "last"),
        ("search", "x"),
        ("rebuild",),
        ("forget", "last", "--yes"),
        ("export", "last"),
    ):
        assert shop.fails(*arguments) == "E307"
    assert not shop.home.exists()
    Writer(shop.home).close()  # a store in which nothing is
    for arguments in (("show", "last"), ("rebuild",), ("rehear", "--out", str(shop.folder))):
        assert shop.fails(*arguments) == "E307"


def test_search_finds_and_takes_any_sign(shop: Shop) -> None:
    ident = shop.add()
    (hit,) = json.loads(shop.run("search", "ground", "strap", "--json").stdout)
    assert (hit["session"], hit["utterance"], hit["start"]) == (ident, 1, 0.5)
    assert "ground strap" in hit["line"].lower()
    assert "0:03" in shop.run("search", "bolts").stdout
    for words in ('"', "(", "a* OR", "--nothing", "-x", "'; DROP TABLE sessions; --", "heard:x ^y"):
        assert shop.run("search", words, "word").exit_code == 0
    assert shop.fails("search", "***") == "E313"
    assert len(json.loads(shop.run("sessions", "--json").stdout)) == 1


def test_correcting_reads_the_new_words_and_keeps_the_old(shop: Shop) -> None:
    ident = shop.add()
    before = shop.run("export", ident).stdout
    assert (
        shop.run("correct", ident, "2", "three 12 mm bolts come off the strap", "--who", "Ana").exit_code == 0
    )
    row = json.loads(shop.run("export", ident).stdout)["utterances"][1]
    assert row["text"] == LINES[1]["text"]
    assert row["corrected"] == "three 12 mm bolts come off the strap"
    fastener = next(e for e in row["entities"] if e["type"] == "fastener")
    assert (fastener["count"], fastener["size"]) == (3, {"value": 12, "unit": "mm"})
    shown = shop.run("show", ident).stdout
    assert "heard: two ten mil bolts" in shown
    assert shop.run("correct", ident, "2", str(LINES[1]["text"]), "--who", "Ana").exit_code == 0
    again = json.loads(shop.run("export", ident).stdout)
    again["utterances"][1]["corrected"] = None
    assert again == json.loads(before)
    assert shop.fails("correct", ident, "77", "x", "--who", "Ana") == "E311"
    assert shop.run("correct", ident, "2", "x").exit_code != 0  # nobody said who


def test_striking_and_having_back(shop: Shop) -> None:
    ident = shop.add()
    before = shop.run("export", ident).stdout
    shop.run("strike", ident, "2", "--who", "Ana")
    record = Record.model_validate_json(shop.run("export", ident).stdout)
    assert [u.struck for u in record.utterances] == [False, True, False]
    assert record.fasteners == [] and record.utterances[1].entities == []
    assert "(struck)" in shop.run("show", ident).stdout
    shop.run("strike", ident, "2", "--who", "Ana", "--undo")
    assert shop.run("export", ident).stdout == before


def test_rebuilding_gives_the_same_bytes(shop: Shop) -> None:
    idents = [shop.add(), shop.add()]
    shop.run("correct", idents[0], "1", "it cranks slowly", "--who", "Ana")
    with Reader(shop.home) as reader:
        before = [reader.record(ident) for ident in idents]
    lines = shop.run("rebuild").stdout.splitlines()
    assert [line.split() for line in lines] == [[b.session, b.sha256, "same"] for b in before if b]
    assert len(shop.run("rebuild", idents[1][-5:]).stdout.splitlines()) == 1
    with Reader(shop.home) as reader:
        assert [reader.record(ident) for ident in idents] == before


def test_a_record_that_is_out_of_date_is_made_anew(shop: Shop) -> None:
    ident = shop.add()
    wanted = shop.run("export", ident).stdout
    with Writer(shop.home) as writer:
        writer.drop_records()
    assert shop.run("export", ident).stdout == wanted


def test_forgetting_asks_first(shop: Shop) -> None:
    ident = shop.add()
    assert shop.run("forget", ident, answer="n\n").exit_code != 0
    assert b"cranks" in bytes_in(shop.home)
    result = shop.run("forget", ident, answer="y\n")
    assert result.exit_code == 0 and result.stdout == ""
    assert b"cranks" not in bytes_in(shop.home)
    shop.add()
    assert shop.run("forget", "last", "--yes").exit_code == 0
    assert shop.fails("show", ident) == "E305"


def test_exports(shop: Shop) -> None:
    ident = shop.add()
    record = Record.model_validate_json(shop.run("export", ident, "--format", "json").stdout)
    assert [u.text for u in record.utterances] == [line["text"] for line in LINES]
    captions = shop.run("export", ident, "--format", "vtt").stdout
    assert [(cue[0], cue[1], cue[2]) for cue in cues(captions)] == [
        ("1", 500, 2000), ("2", 3000, 5000), ("3", 6000, 8000),
    ]  # fmt: skip
    assert "&lt;b&gt;lunch&lt;/b&gt; was *good* --&gt; really &amp; [31mred" in captions
    markdown = shop.run("export", ident, "--format", "md").stdout
    said = markdown.split("## What was said\n\n")[1].splitlines()
    assert [line[:11] for line in said] == ["- 00:00:00 ", "- 00:00:03 ", "- 00:00:06 "]
    assert "<b>" not in markdown and "\x1b" not in markdown
    out = shop.folder / "out.vtt"
    result = shop.run("export", ident, "--format", "vtt", "--out", str(out))
    assert result.stdout == "" and out.read_text(encoding="utf-8") == captions
    assert sorted(path.name for path in shop.folder.iterdir()) == ["home", "out.vtt", "talk.jsonl"]
    assert shop.fails("export", ident, "--out", str(shop.folder / "no" / "x.json")) == "E501"


def test_backup(shop: Shop) -> None:
    shop.add()
    copy = shop.folder / "copy.db"
    assert shop.run("backup", str(copy)).exit_code == 0
    assert shop.fails("backup", str(copy)) == "E502"
    assert b"cranks" in copy.read_bytes()


def test_errors_of_the_store_are_all_reached_by_a_test() -> None:
    from narrator.errors import CATALOGUE  # noqa: PLC0415

    tests = "".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.glob("test_*.py"))
    mine = [code for code in CATALOGUE if "E301" <= code < "E350" or "E501" <= code < "E520"]
    assert mine and not [code for code in mine if f'"{code}"' not in tests]
    assert len(SAID) == 3


def test_a_line_that_was_not_said_is_inserted_and_struck_again(shop: Shop) -> None:
    ident = shop.add()
    assert (
        "utterance 4 was added"
        in shop.run("insert", ident, "1", "the fuse was dead", "--who", "Ana").stderr.lower()
    )
    shown = shop.run("show", ident).stdout
    assert "(added, not said)" in shown
    assert shown.index("fuse was dead") < shown.index("10 mm bolt")
    assert shop.fails("insert", ident, "9", "x", "--who", "Ana") == "E311"
    assert shop.fails("insert", ident, "1", "...", "--who", "Ana") == "E317"
    assert "(struck)" not in shown
    shop.run("strike", ident, "4", "--who", "Ana")
    assert "(struck)" in shop.run("show", ident).stdout
