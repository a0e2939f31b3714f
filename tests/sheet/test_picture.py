"""The reasoning picture: a mark for every change, proof and test; no colour; words for who cannot see it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from itertools import pairwise

from narrator.job.record import Record
from narrator.sheet.picture import WIDTH, pictures
from narrator.sheet.timeline import SLOTS_A_PANEL, timeline
from narrator.sheet.words import Said
from tests.sheet import golden

SVG = "{http://www.w3.org/2000/svg}"


def drawn(record: Record) -> list[ET.Element]:
    return [ET.fromstring(picture.svg) for picture in pictures(timeline(record, Said(record)))]


def test_a_mark_for_each_history_entry_evidence_and_test() -> None:
    record = golden.record()
    groups = [g for root in drawn(record) for g in root.iter(f"{SVG}g")]
    kinds = Counter((g.get("data-suspect"), g.get("data-kind")) for g in groups if g.get("data-suspect"))
    assert sum(kinds.values()) == sum(len(h.history) + len(h.evidence) for h in record.hypotheses)
    assert kinds["H2", "reopened"] == 1
    assert kinds["H2", "cleared"] == 2
    assert kinds["H3", "withdrawn"] == 1
    assert kinds["H3", "supported"] == 2
    tests = [g.get("data-test") for g in groups if g.get("data-test")]
    assert sorted(tests) == sorted(t.id for t in record.tests)


def test_each_mark_is_named_in_words() -> None:
    for root in drawn(golden.record()):
        words = [t.text for t in root.iter(f"{SVG}text")]
        for group in root.iter(f"{SVG}g"):
            if kind := group.get("data-kind"):
                assert kind in words
                title = group.find(f"{SVG}title")
                assert title is not None
                assert kind in (title.text or "")


def test_black_and_white_only() -> None:
    for picture in pictures(timeline(golden.record(), Said(golden.record()))):
        colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', picture.svg))
        assert colours <= {"#000", "#fff", "none"}


def test_title_and_description() -> None:
    for root in drawn(golden.record()):
        assert root.get("role") == "img"
        ids = (root.get("aria-labelledby") or "").split()
        named = {e.get("id"): e.text for e in root if e.get("id")}
        assert all(named[ident] for ident in ids)
    described = drawn(golden.record())[0].find(f"{SVG}desc")
    assert described is not None
    assert "01:06 H1 cleared" in (described.text or "")


def test_kinds_differ_in_shape() -> None:
    """No two kinds of mark share an outline, so that none is told by fill alone or by a word alone."""
    shapes: dict[str, tuple[object, ...]] = {}
    for root in drawn(golden.record()):
        for group in root.iter(f"{SVG}g"):
            if kind := group.get("data-kind"):
                parts = [e for e in group if e.tag not in {f"{SVG}title", f"{SVG}text"}]
                corners = (e.get("points", "").count(",") for e in parts)
                up = tuple(_points_up(e) for e in parts)
                shapes[kind] = (tuple(e.tag for e in parts), tuple(corners), up)
    assert len(set(shapes.values())) == len(shapes) == 7


def _points_up(element: ET.Element) -> bool | None:
    points = [float(p.split(",")[1]) for p in element.get("points", "").split()]
    return points[2] < points[0] if len(points) == 3 else None


def test_text_stays_inside_and_words_do_not_collide() -> None:
    for root in drawn(golden.record()):
        rows: dict[float, list[tuple[float, float]]] = {}
        for text in root.iter(f"{SVG}text"):
            if text.get("text-anchor") == "middle":
                half = len(text.text or "") * 6.0 / 2
                x, y = float(text.get("x", "0")), float(text.get("y", "0"))
                assert half <= x + 1
                assert x + half <= WIDTH + 1
                rows.setdefault(y, []).append((x - half, x + half))
        for spans in rows.values():
            ordered = sorted(spans)
            assert all(a[1] <= b[0] for a, b in pairwise(ordered))


def test_panels_cover_every_slot_once() -> None:
    record = golden.huge(200)
    line = timeline(record, Said(record))
    slots = [slot for panel in line.panels() for slot in panel]
    assert slots == list(range(len(line.times)))
    assert all(len(panel) <= SLOTS_A_PANEL + 1 for panel in line.panels())


def test_nothing_to_draw() -> None:
    assert drawn(golden.empty()) == []


def test_markup_in_a_suspect_is_text() -> None:
    record = golden.nasty()
    for root in drawn(record):
        assert not list(root.iter(f"{SVG}script"))
    assert "&lt;script&gt;" in pictures(timeline(record, Said(record)))[0].svg
