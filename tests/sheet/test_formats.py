"""HTML, PDF and Markdown: the same words, escaped, well formed, the same bytes twice, quick."""

from __future__ import annotations

import re
import time
from html.parser import HTMLParser

import pytest
from markdown_it import MarkdownIt

from narrator.sheet.document import Sheet
from narrator.sheet.html import TEMPLATES, render_html
from narrator.sheet.markdown import escape, render_markdown
from narrator.sheet.pdf import Paper, render_pdf
from narrator.sheet.view import view
from tests.sheet import golden

SHEET = view(golden.record(), golden.META)
NASTY = view(golden.nasty(), golden.META)
_VOID = {"meta", "col", "br", "hr", "img", "link", "input"}


class Page(HTMLParser):
    """Checks that tags nest, and collects text, tags and attributes."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), tag
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] != ["style"]:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def squeezed(text: str) -> str:
    return "".join(text.split())


@pytest.mark.parametrize("sheet", [SHEET, NASTY, view(golden.empty())], ids=["rich", "nasty", "empty"])
def test_html_is_well_formed_and_says_everything(sheet: Sheet) -> None:
    page = Page(render_html(sheet))
    said = squeezed(page.text)
    for text in sheet.texts():
        assert squeezed(text) in said or text.startswith("Reasoning over time"), text


def test_html_has_no_script_and_no_outside_asset() -> None:
    page = Page(render_html(NASTY))
    assert not {"script", "link", "img", "iframe", "object"} & {tag for tag, _ in page.tags}
    for tag, attributes in page.tags:
        assert not any(name.startswith("on") for name in attributes), tag
        assert "src" not in attributes
        assert "href" not in attributes
    css = (TEMPLATES / "sheet.css").read_text(encoding="utf-8")
    assert "url(" not in css
    assert "@import" not in css


def test_html_headings_tables_and_ids() -> None:
    page = Page(render_html(SHEET))
    assert [tag for tag, _ in page.tags].count("h1") == 1
    assert all(a.get("scope") in {"col", "row"} for tag, a in page.tags if tag == "th")
    ids = [a["id"] for _, a in page.tags if a.get("id")]
    assert len(ids) == len(set(ids))
    named = [a["aria-labelledby"] for _, a in page.tags if a.get("aria-labelledby")]
    assert all(part in ids for value in named for part in (value or "").split())
    assert ("html", {"lang": "en"}) in page.tags


def test_html_contrast_is_at_least_aa() -> None:
    """WCAG 2.2 success criterion 1.4.3: text at 4.5 to 1 or more against the white page."""
    css = (TEMPLATES / "sheet.css").read_text(encoding="utf-8")
    colours = set(re.findall(r"(?<![\w-])color: (#[0-9a-f]{3,6})", css))
    assert colours
    for colour in colours:
        assert 1.05 / (luminance(colour) + 0.05) >= 4.5, colour


def luminance(colour: str) -> float:
    """Relative luminance as WCAG defines it."""
    digits = colour.lstrip("#")
    digits = "".join(d * 2 for d in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_pdf_on_both_papers(paper: Paper) -> None:
    made = render_pdf(SHEET, paper)
    assert made.startswith(b"%PDF-")
    box = re.search(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", made)
    assert box is not None
    size = (round(float(box[1])), round(float(box[2])))
    assert size == {"a4": (595, 842), "us-letter": (612, 792)}[paper]


def test_pdf_takes_markup_and_every_sign_as_text() -> None:
    made = render_pdf(NASTY)
    assert made.startswith(b"%PDF-")
    assert b"/JavaScript" not in made
    assert b"/URI" not in made  # the link of the dictated text did not become one


def test_pdf_of_an_empty_record_and_of_long_words() -> None:
    assert render_pdf(view(golden.empty())).startswith(b"%PDF-")
    record = golden.record()
    record.hypotheses[0].statement = "x" * 900
    assert render_pdf(view(record)).startswith(b"%PDF-")


def test_same_bytes_twice() -> None:
    again = view(golden.record(), golden.META)
    assert render_html(SHEET) == render_html(again)
    assert render_markdown(SHEET) == render_markdown(again)
    first = render_pdf(SHEET)
    time.sleep(1.1)  # a PDF stamps whole seconds
    assert render_pdf(again) == first


def test_markdown_is_read_back_as_text() -> None:
    parser = MarkdownIt("commonmark").enable("table").enable("strikethrough")
    tokens = [t for token in parser.parse(render_markdown(NASTY)) for t in [token, *(token.children or [])]]
    types = {t.type for t in tokens}
    assert not types & {"html_block", "html_inline", "link_open", "code_inline", "image", "fence", "s_open"}
    text = squeezed("".join(t.content for t in tokens if t.type in {"text", "text_special"}))
    for line in (line for section in NASTY.sections for line in [section.title]):
        assert squeezed(line) in text
    assert squeezed(golden.NASTY) in text


@pytest.mark.parametrize(
    "text", ["1. first", "- dash", "+ plus", "---", "===", "# head", "a | b", "&lt;", "2) two"]
)
def test_markdown_escape(text: str) -> None:
    parser = MarkdownIt("commonmark").enable("table")
    tokens = parser.parse(escape(text))
    assert [t.type for t in tokens] == ["paragraph_open", "inline", "paragraph_close"]
    assert "".join(c.content for c in tokens[1].children or []) == text


def test_a_thousand_utterances_under_two_seconds() -> None:
    record = golden.huge(1000)
    assert len(record.utterances) == 1000
    start = time.process_time()
    sheet = view(record, golden.META)
    html, markdown = render_html(sheet), render_markdown(sheet)
    spent = time.process_time() - start
    assert len(html) > 100_000
    assert len(markdown) > 50_000
    assert spent < 2, f"{spent:.2f} s of processor time"
