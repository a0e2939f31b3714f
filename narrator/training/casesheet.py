"""A case sheet as one HTML page to print: each decision with room to answer, the ending apart."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape

from narrator.job.record import Record, UtteranceRow
from narrator.training.replay import QUESTIONS, decisions

_CSS = """
body{margin:0 auto;padding:1.2rem;max-width:46rem;background:#fff;color:#000;
font:1rem/1.45 system-ui,"Liberation Sans",Arial,sans-serif}
h1{font-size:1.5rem;margin:.2rem 0}h2{font-size:1.1rem;border-bottom:2px solid #000;margin:1.6rem 0 .4rem}
ol{list-style:none;margin:0;padding:0}li{display:flex;gap:.8rem;margin:.15rem 0}
time{flex:0 0 3.2rem;text-align:right;font-variant-numeric:tabular-nums}
.ask{margin:.7rem 0 0;break-inside:avoid}.ask div{border-bottom:1px solid #000;height:1.9rem}
.ending{break-before:page;margin-top:3rem;border-top:3px double #000}h2{break-after:avoid}
@media print{.ending{margin-top:0;border-top:0}body{padding:0}main section+section{break-before:page}}
"""


def case_page(record: Record, title: str, shown: Callable[[str], str] = str) -> str:
    """The whole page; ``shown`` takes out of each text what must not be given away."""
    stops = decisions(record)
    case = "".join(
        f"<section><h2>{stop.number}. Up to here</h2>{_lines(stop.lines, shown)}"
        f"<p>Open suspects: {escape(shown(', '.join(stop.open)) or 'none named yet')}</p>"
        + "".join(f'<div class="ask">{escape(q)}<div></div><div></div></div>' for q in QUESTIONS)
        + "</section>"
        for stop in stops
    )
    ending = "".join(
        f"<section><h2>{stop.number}. What happened</h2>{_lines(stop.happened, shown)}</section>"
        for stop in stops
    )
    name = escape(title)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport"'
        f' content="width=device-width"><title>Case: {name}</title><style>{_CSS}</style></head><body>'
        f'<main><h1>Case: {name}</h1>{case}</main><aside class="ending">'
        f"<h1>Ending of case: {name}</h1>{ending}"
        f"<p>{escape(shown(settled(record)))}</p></aside></body></html>\n"
    )


def settled(record: Record) -> str:
    """The causes that stood at the end, in a sentence."""
    causes = [h.component for h in record.hypotheses if h.status == "confirmed"]
    return f"Settled by the technician: {', '.join(causes) or 'no cause'}"


def _lines(rows: Iterable[UtteranceRow], shown: Callable[[str], str]) -> str:
    items = "".join(
        f"<li><time>{int(row.start) // 60:02}:{int(row.start) % 60:02}</time><span>{escape(shown(row.told))}"
        "</span></li>"
        for row in rows
    )
    return f"<ol>{items}</ol>"
