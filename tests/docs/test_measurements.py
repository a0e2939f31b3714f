"""Today's figures lead to the measurement that they are of, and the pages of measurements keep their form."""

from __future__ import annotations

import re
from calendar import month_name
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.docs.test_reference import COMMANDS, PAGES, ROOT

DOCS = ROOT / "docs"
KEPT = sorted(page for page in (DOCS / "measurements").glob("*.md") if page.name != "README.md")
STATE = [DOCS / page.name for page in KEPT]
"""What stands today, each with its page of measurements of the same name."""
LONGEST = 120
_MONTHS = {name: n for n, name in enumerate(month_name) if name}
_DATE = re.compile(rf"(\d+) ({'|'.join(_MONTHS)}) (\d{{4}})")
_NUMBER = re.compile(r"(?<![\w.])(?:\d[\d,]*(?:\.\d+)?|\.\d+)")
_CODE = re.compile(r"^```[\s\S]*?^```$|^ {4}.*$", re.MULTILINE)


def headings(page: Path) -> dict[str, str]:
    """Anchor of each heading, as GitHub makes it, to the text under it (its own line included)."""
    return _headings(page.read_text(encoding="utf-8"))


@lru_cache(maxsize=64)
def _headings(text: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for part in re.split(r"^(?=#{1,6} )", text, flags=re.MULTILINE):
        line = part.partition("\n")[0]
        if line.startswith("#"):
            found[re.sub(r"[^\w\- ]", "", line.lstrip("# ").lower()).replace(" ", "-")] = part
    return found


def targets(text: str) -> dict[str, str]:
    """Names of link definitions (``[name]: target``) to what they lead to."""
    return dict(re.findall(r"^\[([\w-]+)\]: (\S+)$", text, re.MULTILINE))


def section(page: Path, target: str) -> str:
    """The text under the heading to which a link of a page leads."""
    path, _, anchor = target.partition("#")
    return headings((page.parent / path) if path else page)[anchor]


def numbers(text: str) -> set[str]:
    return {number.strip(",") for number in _NUMBER.findall(text)}


class Row(NamedTuple):
    """A row of a table of today's state: a figure, where it was measured, and how to measure it again."""

    page: Path
    what: str
    figure: str
    measured: str
    again: str


def rows(page: Path) -> list[Row]:
    """Rows of the tables that tell what stands today: those with a column ``measured``."""
    found: list[Row] = []
    head: list[str] = []
    for line in page.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]
        if not cells:
            head = []
        elif not head:
            head = cells
        elif {"what", "measured", "again by"} <= set(head) and not set(line) <= set("|- "):
            assert len(cells) == len(head), line
            cell = dict(zip(head, cells, strict=True))
            figure = cell["stands at"] if "stands at" in cell else cell["today"]
            found.append(Row(page, cell["what"], figure, cell["measured"], cell["again by"]))
    return found


STANDS = [row for page in STATE for row in rows(page)]
AIMS = [row for row in STANDS if row.page.name == "BENCHMARKS.md"]


def test_the_aims_are_told_in_the_first_table() -> None:
    assert len(AIMS) > 25
    assert list(headings(DOCS / "BENCHMARKS.md"))[1] == "where-it-stands"


@pytest.mark.parametrize("row", STANDS, ids=lambda row: f"{row.page.stem}: {row.what}")
def test_a_figure_stands_where_its_date_leads_to(row: Row) -> None:
    if row.measured == "every test run":
        assert "pytest" in row.again
        return
    links = re.findall(r"\[([^]]+)\]\[([\w-]+)\]", row.measured)
    assert links, row.measured
    known = targets(row.page.read_text(encoding="utf-8"))
    measured = [section(row.page, known[name]) for _, name in links]
    date = _DATE.search(links[0][0])
    assert date, row.measured
    assert date[0] in measured[0], f"{date[0]} is not the date of what was measured"
    missing = numbers(row.figure) - set().union(*map(numbers, measured))
    assert not missing, f"not measured there: {sorted(missing)}"


def test_a_row_leads_to_the_same_measurement_wherever_it_is_told() -> None:
    """So a figure that is brought up to date in one table is not forgotten in the other."""
    aims = {row.what: led_to(row) for row in AIMS}
    shared = [row for row in STANDS if row not in AIMS and row.what in aims]
    assert len(shared) > 12
    for row in shared:
        assert led_to(row) == aims[row.what], f"{row.page.name}: {row.what}"


def led_to(row: Row) -> set[str]:
    """Where the links of a row's date lead."""
    known = targets(row.page.read_text(encoding="utf-8"))
    return {known[name] for name in re.findall(r"\]\[([\w-]+)\]", row.measured)}


def test_what_measures_again_is_there() -> None:
    named = 0
    for row in STANDS:
        for command in re.findall(r"`([^`]+)`", row.again):
            words = command.split()
            if words[0] == "python" and words[1] == "-m" and words[2] != "pytest":
                module = ROOT.joinpath(*words[2].split("."))
                assert module.with_suffix(".py").exists(), command
                unknown = {w for w in words if w.startswith("--")} - options(module.with_suffix(".py"))
                assert not unknown, f"{command}: {unknown}"
            elif words[0] == "python":
                assert (ROOT / words[-1 if words[1] == "-m" else 1]).exists(), command
            elif words[0] == "narrator":
                assert words[1] in COMMANDS, command
            else:
                continue
            named += 1
    assert named > 30


def options(script: Path) -> set[str]:
    """Options that a script's own text names."""
    return set(re.findall(r"--[a-z][\w-]*", script.read_text(encoding="utf-8")))


@pytest.mark.parametrize("page", KEPT, ids=lambda page: page.name)
def test_measurements_stand_newest_first_under_their_date(page: Path) -> None:
    days: list[tuple[int, int, int]] = []
    for part in list(headings(page).values())[1:]:
        line = part.partition("\n")[0]
        assert line.startswith("## "), line
        date = _DATE.search(line.partition(":")[0])
        assert date, f"no date: {line}"
        days.append((int(date[3]), _MONTHS[date[2]], int(date[1])))
    assert len(days) > 10
    assert days == sorted(days, reverse=True)


@pytest.mark.parametrize("page", [*KEPT, *STATE], ids=lambda page: str(page.relative_to(DOCS)))
def test_lines_can_be_read(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    long = [
        line
        for line in text.splitlines()
        if len(line) > LONGEST and not line.startswith(("|", "    ")) and not re.match(r"\[[\w-]+\]: ", line)
    ]
    assert not long


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_lead_to_a_heading(page: Path) -> None:
    text = _CODE.sub("", page.read_text(encoding="utf-8"))
    known = targets(text)
    used = set(re.findall(r"\[[^][]+\]\[([\w-]+)\]", text))
    assert used <= set(known), f"no such link: {used - set(known)}"
    assert set(known) <= used, f"nothing uses {set(known) - used}"
    for target in [*re.findall(r"\]\((?!\w+:)([^)\s]+)\)", text), *known.values()]:
        path, _, anchor = target.partition("#")
        to = (page.parent / path) if path else page
        assert to.exists(), target
        assert not anchor or anchor in headings(to), target


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_headings_that_a_page_names_are_there(page: Path) -> None:
    """``docs/NAME.md, "Heading"``."""
    text = re.sub(r"\s+", " ", page.read_text(encoding="utf-8"))
    for name, heading in re.findall(r'(docs/[\w./-]+\.md), "([^"]+)"', text):
        lines = [part.partition("\n")[0].lstrip("# ") for part in headings(ROOT / name).values()]
        assert heading in lines, f"{name}: {heading}"


@pytest.mark.parametrize("page", [*KEPT, *STATE], ids=lambda page: str(page.relative_to(DOCS)))
def test_a_mark_of_rows_is_explained_on_its_page(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    marked = any("†" in line for line in text.splitlines() if line.startswith("|"))
    assert not marked or re.search(r"^† .*plain en-gb", text, re.MULTILINE)


TRIED = re.findall(
    r"^\| (.+?) \| (.+?) \| \[[^]]+\]\((\S+)\) \|$",
    headings(DOCS / "measurements" / "README.md")["tried-and-did-not-pay"],
    re.MULTILINE,
)


def test_something_was_tried() -> None:
    assert len(TRIED) > 15


@pytest.mark.parametrize(("what", "came", "target"), TRIED)
def test_what_came_of_a_trial_stands_where_it_was_measured(what: str, came: str, target: str) -> None:
    missing = numbers(f"{what} {came}") - numbers(section(DOCS / "measurements" / "README.md", target))
    assert not missing, f"not measured there: {sorted(missing)}"


@pytest.mark.parametrize("page", KEPT, ids=lambda page: page.name)
def test_every_trial_that_was_not_kept_is_listed(page: Path) -> None:
    named = {target for _, _, target in TRIED}
    kept = {f"{page.name}#{anchor}" for anchor in headings(page) if anchor.endswith("tried-not-kept")}
    assert kept <= named
