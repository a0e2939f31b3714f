"""A study as files: CSV, Parquet, and one self-contained HTML page (no script, nothing fetched)."""

from __future__ import annotations

import csv
from html import escape
from pathlib import Path
from typing import Any

from narrator.errors import NarratorError
from narrator.training import charts
from narrator.training.parquet import Sink
from narrator.training.study import Study
from narrator.training.table import Table

_CSS = """
body{margin:0 auto;padding:1.2rem;max-width:62rem;background:#fff;color:#000;
font:1rem/1.45 system-ui,"Liberation Sans",Arial,sans-serif}
h1{font-size:1.7rem;margin:.2rem 0}h2{font-size:1.2rem;border-bottom:2px solid #000;margin:2rem 0 .4rem}
.note,.lead{color:#222;max-width:48rem}.wide{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.9rem}th,td{padding:.25rem .6rem .25rem 0;
border-bottom:1px solid #999;text-align:right;vertical-align:top}
td{white-space:nowrap}
.text{text-align:left;white-space:normal}
thead th{border-bottom:1.5px solid #000}svg{max-width:100%;height:auto;display:block;margin:.6rem 0}
nav a{color:#000;margin-right:.9rem}@media print{h2,table,svg{break-inside:avoid}}
"""
_SHARES = {"mistakes", "verification", "causes", "symptoms", "first_tests"}
_NUMBERS = {"causes": (0, 3, 4, 5, 1, 2), "symptoms": (0, 3, 4, 5, 2, 1), "first_tests": (0, 3, 4, 5, 2, 1)}
"""Columns of a chart's name, share, its bounds, and the two numbers whose share it is."""


def shown(column: str, value: Any) -> str:
    """A value for people: shares in percent, numbers short, nothing for what is not there."""
    if value is None:
        return "–"
    if isinstance(value, float):
        return f"{value:.0%}" if column.strip() in _PERCENT else f"{value:,.2f}".rstrip("0").rstrip(".")
    return f"{value:,}" if isinstance(value, int) else str(value)


_WHOLE = {"phases"}
"""Tables of seconds: parts of one tell nothing."""
_PERCENT = {"share", "cause settled", "repair checked", "part untested"}


def brief(table: Table) -> tuple[list[str], list[list[str]]]:
    """Columns and rows as text, every value with its interval in one cell: ``17% (8% to 35%)``."""
    names = [column.strip() for column in table.columns]
    kept = _kept(table)
    columns = [f"{names[n]} (95 %)" if names[n + 1 : n + 2] == ["from"] else names[n] for n in kept]
    whole = table.id in _WHOLE
    rows = [tuple(round(v) if whole and isinstance(v, float) else v for v in row) for row in table.rows]
    return columns, [[_cell(names, row, n) for n in kept] for row in rows]


def _kept(table: Table) -> list[int]:
    """The columns that are shown as such: bounds stand with what they bound."""
    return [n for n, column in enumerate(table.columns) if column.strip() not in ("from", "to")]


def _cell(names: list[str], row: tuple[Any, ...], n: int) -> str:
    value = shown(names[n], row[n])
    if names[n + 1 : n + 2] != ["from"] or row[n + 1] is None:
        return value
    return f"{value} ({shown(names[n], row[n + 1])} to {shown(names[n], row[n + 2])})"


def html(study: Study, notes: list[str]) -> str:
    """The whole report as one page."""
    parts = [
        f'<section id="{t.id}"><h2>{escape(t.title)}</h2>{_section(t, study.jobs)}</section>'
        for t in study.tables
    ]
    links = "".join(f'<a href="#{t.id}">{escape(t.title)}</a>' for t in study.tables)
    about = "".join(f'<p class="note">{escape(note)}</p>' for note in notes)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport"'
        f' content="width=device-width"><title>Study of {study.jobs} jobs</title><style>{_CSS}</style></head>'
        f'<body><header><h1>Study of {study.jobs:,} jobs</h1><p class="lead">Selection: {escape(study.of)}.'
        " Counted from what was narrated; docs/training.md defines every measure. It tells how jobs went,"
        f" not how good a mechanic is.</p>{about}<nav>{links}</nav></header>"
        f"<main>{''.join(parts)}</main></body></html>\n"
    )


def _section(table: Table, jobs: int) -> str:
    note = f'<p class="note">{escape(table.note)}</p>'
    if not table.rows:
        return note + "<p>None.</p>"
    drawn = ""
    if table.id in _SHARES:
        drawn = charts.shares(table, table.title, _NUMBERS.get(table.id, (0, 2, 3, 4, 1, None)), jobs)
    elif table.id == "phases":
        drawn = charts.phases(table, table.title)
    columns, rows = brief(table)
    texts = [any(isinstance(row[n], str) for row in table.rows) for n in _kept(table)]
    kinds = ['<td class="text">' if text else "<td>" for text in texts]
    head = "".join(
        f'<th scope="col"{" class=text" * text}>{escape(column)}</th>'
        for column, text in zip(columns, texts, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(f"{kind}{escape(cell)}</td>" for kind, cell in zip(kinds, row, strict=True))
        + "</tr>"
        for row in rows
    )
    return (
        f'{note}{drawn}<div class="wide"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def write_html(study: Study, notes: list[str], path: Path) -> None:
    """Write the report.

    Raises:
        NarratorError: E501 when it cannot be written, E801 without matplotlib.
    """
    text = html(study, notes)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise NarratorError("E501", path=path, why=error.strerror or error) from error


def write_csv(study: Study, folder: Path) -> None:
    """One CSV file a table (RFC 4180, UTF-8). A cell that a spreadsheet would run is kept as text."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for table in study.tables:
            with (folder / f"{table.id}.csv").open("w", encoding="utf-8", newline="") as file:
                rows = csv.writer(file)
                rows.writerow(column.strip() for column in table.columns)
                rows.writerows([_harmless(value) for value in row] for row in table.rows)
    except OSError as error:
        raise NarratorError("E501", path=folder, why=error.strerror or error) from error


def _harmless(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value[:1] in "=+-@\t" and value else value


def write_parquet(study: Study, folder: Path) -> None:
    """One Parquet file a table; columns keep their order and get unique plain names."""
    shapes: dict[str, dict[str, type]] = {}
    made: dict[str, list[dict[str, Any]]] = {}
    for table in study.tables:
        names = [f"{n}_{c.strip().replace(' ', '_').replace(',', '')}" for n, c in enumerate(table.columns)]
        kinds = [_kind([row[n] for row in table.rows]) for n in range(len(names))]
        shapes[table.id] = dict(zip(names, kinds, strict=True))
        made[table.id] = [dict(zip(names, row, strict=True)) for row in table.rows]
    with Sink(shapes) as sink:
        for name, rows in made.items():
            sink.add(name, rows)
        sink.write(folder)


def _kind(values: list[Any]) -> type:
    kinds = {type(v) for v in values if v is not None}
    return kinds.pop() if len(kinds) == 1 else float if kinds <= {int, float} and kinds else str
