"""The shapes of the reasoning picture: each kind of mark is told by its outline alone."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from narrator.sheet.timeline import MarkKind

_INK = {"stroke": "#000", "stroke-width": "1.6"}
_HOLLOW = {**_INK, "fill": "#fff"}


def element(parent: ET.Element, tag: str, text: str = "", **attributes: object) -> ET.Element:
    """Add an element; numbers are written with at most one decimal."""
    made = ET.SubElement(parent, tag)
    for name, value in attributes.items():
        made.set(name, f"{round(value, 1):g}" if isinstance(value, float) else str(value))
    if text:
        made.text = text
    return made


def _polygon(parent: ET.Element, points: list[tuple[float, float]], **style: str) -> None:
    element(parent, "polygon", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in points), **style)


def _cross(parent: ET.Element, x: float, y: float, r: float) -> None:
    path = f"M{x - r:.1f} {y - r:.1f}L{x + r:.1f} {y + r:.1f}M{x - r:.1f} {y + r:.1f}L{x + r:.1f} {y - r:.1f}"
    element(parent, "path", d=path, stroke="#fff", **{"stroke-width": "6", "fill": "none"})
    element(parent, "path", d=path, stroke="#000", **{"stroke-width": "2.6", "fill": "none"})


def draw_mark(parent: ET.Element, kind: MarkKind, x: float, y: float) -> None:
    """Draw what happened to a suspect, centred on (x, y)."""
    if kind == "opened":
        element(parent, "circle", cx=x, cy=y, r=5.5, **_HOLLOW)
    elif kind == "reopened":
        element(parent, "circle", cx=x, cy=y, r=7.0, **_HOLLOW)
        element(parent, "circle", cx=x, cy=y, r=3.5, **_HOLLOW)
    elif kind == "supported":
        _polygon(parent, [(x - 6.5, y + 5.5), (x + 6.5, y + 5.5), (x, y - 6.5)], fill="#000")
    elif kind == "contradicted":
        _polygon(parent, [(x - 6, y - 5), (x + 6, y - 5), (x, y + 6)], **_HOLLOW)
    elif kind == "cleared":
        _cross(parent, x, y, 5.5)
    elif kind == "withdrawn":
        element(parent, "rect", x=x - 6.5, y=y - 6.5, width=13, height=13, **_HOLLOW)
        _cross(parent, x, y, 3.5)
    else:
        element(parent, "rect", x=x - 7, y=y - 7, width=14, height=14, fill="#000")
        tick = f"M{x - 4:.1f} {y:.1f}L{x - 1:.1f} {y + 3.5:.1f}L{x + 4.5:.1f} {y - 4:.1f}"
        element(parent, "path", d=tick, stroke="#fff", **{"stroke-width": "2.2", "fill": "none"})


def draw_test(parent: ET.Element, outcome: str, x: float, y: float) -> None:
    """Draw a test: hollow when the thing was found good, solid when bad, barred when not settled."""
    diamond = [(x, y - 7.5), (x + 7.5, y), (x, y + 7.5), (x - 7.5, y)]
    _polygon(parent, diamond, **({"fill": "#000"} if outcome == "fail" else _HOLLOW))
    if outcome == "inconclusive":
        element(parent, "line", x1=x - 7.5, x2=x + 7.5, y1=y, y2=y, **_INK)
