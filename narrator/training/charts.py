"""Charts of a study as SVG, drawn with matplotlib without a network; hatches, marks and words, no colour."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from narrator.errors import NarratorError
from narrator.training.table import Table


def _axes(rows: int) -> tuple[Any, Any]:
    try:
        import matplotlib as mpl  # noqa: PLC0415 - an extra
        from matplotlib.figure import Figure  # noqa: PLC0415
    except ImportError as error:
        raise NarratorError("E801", library="matplotlib", extra="study") from error
    mpl.rcParams.update({"svg.fonttype": "none", "svg.hashsalt": "narrator", "font.size": 10})
    figure = Figure(figsize=(8.2, 0.7 + 0.42 * max(1, rows)), layout="constrained")
    axes = figure.subplots()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _svg(figure: Any, described: str) -> str:
    """The drawing alone, without the XML head, described for those who hear the page."""
    out = io.StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    label = described.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;")
    return text.replace("<svg ", f'<svg role="img" aria-label="{label}" ', 1)


def shares(table: Table, title: str, at: Sequence[int | None], jobs: int) -> str:
    """A mark for each share with its interval as a bar, and the numbers beside it.

    ``at`` are the columns of the name, the share, its bounds, how many, and of how many (None: of ``jobs``).
    """
    rows = list(reversed(table.rows[:15]))
    name, best, low, high, hits = (int(n or 0) for n in at[:5])
    of = at[5]
    figure, axes = _axes(len(rows))
    for y, row in enumerate(rows):
        bar = {"color": "black", "linewidth": 1.6, "marker": "|", "markersize": 9}
        axes.plot([row[low], row[high]], [y, y], clip_on=False, **bar)
        axes.plot(
            row[best], y, marker="o", color="white", markeredgecolor="black", markersize=7, clip_on=False
        )
        axes.text(1.03, y, f"{row[hits]:,} of {jobs if of is None else row[of]:,}", va="center", fontsize=9)
    axes.set_yticks(range(len(rows)), [str(row[name]) for row in rows])
    axes.set_xlim(0, 1)
    axes.set_ylim(-0.6, len(rows) - 0.4)
    axes.set_xticks([0, 0.25, 0.5, 0.75, 1], ["0 %", "25 %", "50 %", "75 %", "100 %"])
    axes.grid(axis="x", color="0.85")
    axes.set_xlabel("share of jobs: circle, and 95 % interval")
    words = "; ".join(f"{r[name]} {r[best]:.0%} ({r[low]:.0%} to {r[high]:.0%})" for r in reversed(rows))
    return _svg(figure, f"{title}: {words}")


def phases(table: Table, title: str) -> str:
    """Median seconds of each phase as a hatched bar, and the range of four jobs in five as a line."""
    rows = [row for row in reversed(table.rows) if row[0] in ("intake", "search", "further", "repair")]
    figure, axes = _axes(len(rows))
    hatches = {"intake": "", "search": "////", "further": "....", "repair": "xxxx"}
    for y, row in enumerate(rows):
        axes.barh(y, row[5], height=0.55, facecolor="white", edgecolor="black", hatch=hatches[row[0]])
        axes.plot([row[6], row[7]], [y, y], color="black", linewidth=1.2, marker="|", markersize=8)
    axes.set_yticks(range(len(rows)), [f"{row[0]}, {row[1]:,} job{'s' * (row[1] != 1)}" for row in rows])
    axes.set_xlabel("seconds: bar to the median, line over four jobs in five")
    words = "; ".join(f"{r[0]} median {r[5]} s, {r[6]} to {r[7]} s" for r in reversed(rows))
    return _svg(figure, f"{title}: {words}")
