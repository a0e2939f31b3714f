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
th:first-child,td:first-child{text-align:left}
thead th{border-bottom:1.5px solid #000}svg{max-width:100%;height:auto;display:block;margin:.6rem 0}
nav a{color:#000;margin-right:.9rem}@media print{h2,table,svg{break-inside:avoid}}
"""
_SHARES = {"mistakes", "verification", "causes", "symptoms", "first_tests"}
_NUMBERS = {"causes": (0, 3, 4, 5, 2), "symptoms": (0, 3, 4, 5, 1), "first_tests": (0, 3, 4, 5, 1)}


def shown(column: str, value: Any) -> str:
    """A value for people: shares in percent, numbers short, nothing for what is not there."""
    if value is None:
        return "–"
    name = column.strip()
    if isinstance(value, float):
        if name in {"share", "cause settled", "repair checked", "part untested"}:
            return f"{value:.0%}"
        return f"{value:,.2f}".rstrip("0").rstrip(".")
    return f"{value:,}" if isinstance(value, int) else str(value)


def cells(table: Table, row: tuple[Any, ...]) -> list[str]:
    """A row as text; the bounds of a share are percents too."""
    found, percent = [], False
    for column, value in zip(table.columns, row, strict=True):
        name = column.strip()
        if name in {"from", "to"}:
            found.append(f"{value:.0%}" if percent and value is not None else shown(column, value))
            continue
        found.append(shown(column, value))
        percent = name in {"share", "cause settled", "repair checked", "part untested"}
    return found


def html(study: Study, notes: list[str]) -> str:
    """The whole report as one page."""
    parts = [f'<section id="{t.id}"><h2>{escape(t.title)}</h2>{_section(t)}</section>' for t in study.tables]
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


def _section(table: Table) -> str:
    note = f'<p class="note">{escape(table.note)}</p>'
    if not table.rows:
        return note + "<p>None.</p>"
    drawn = ""
    if table.id in _SHARES:
        *at, count = _NUMBERS.get(table.id, (0, 2, 3, 4, 1))
        drawn = charts.shares(table, table.title, at, count)
    elif table.id == "phases":
        drawn = charts.phases(table, table.title)
    head = "".join(f'<th scope="col">{escape(c.strip())}</th>' for c in table.columns)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells(table, row)) + "</tr>"
        for row in table.rows
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
