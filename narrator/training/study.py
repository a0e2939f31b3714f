"""A study over the jobs of a selection: counts, shares and means with their intervals, as plain tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from narrator.errors import NarratorError
from narrator.training import alike, intervals, patterns
from narrator.training.parquet import open_tables
from narrator.training.selection import People, Selection, pseudonyms
from narrator.training.table import TOP, Table, shared
from narrator.training.tables import FIGURES, TABLES

if TYPE_CHECKING:
    import duckdb

LEAST = 20
"""Jobs below which a person is not compared with others."""

MISTAKES = {
    "conclusions_withdrawn": "a conclusion withdrawn",
    "suspects_reopened": "a suspect brought back",
    "tests_repeated": "a test repeated",
    "parts_untested": "a part fitted before a test spoke for it",
    "parts_unneeded": "a part that proved unneeded",
    "consequences_as_causes": "a consequence taken for the cause",
    "fasteners_left_over": "a fastener left over",
}


@dataclass(frozen=True, slots=True)
class Study:
    """All tables of one study, of how many jobs, and of which."""

    jobs: int
    of: str
    tables: tuple[Table, ...]

    def table(self, ident: str) -> Table:
        """The table of an id."""
        return next(t for t in self.tables if t.id == ident)


def study(
    folder: Path,
    chosen: Selection,
    people: People = "pseudonyms",
    least: int = LEAST,
    *,
    likeness: float = alike.LIKENESS,
    once: bool = False,
) -> Study:
    """Study the jobs of a selection in the tables that lie in ``folder``.

    Jobs with ``likeness`` or more of their word pairs in common are told alike; with ``once`` only the first
    of them is counted.

    Raises:
        NarratorError: E801 without DuckDB or SciPy, E804 when no job is chosen.
    """
    where, values = chosen.where()
    with open_tables(folder, TABLES) as db:
        db.execute(f"CREATE TABLE chosen AS SELECT j.* FROM jobs j WHERE {where}", values)
        jobs = _one(db, "SELECT count(*) FROM chosen")
        if not jobs:
            raise NarratorError("E804", asked=chosen.said())
        told_alike, further = patterns.told_alike(db, likeness)
        if once:
            db.executemany("DELETE FROM chosen WHERE session = ?", [[one] for one in further] or [[""]])
            jobs -= len(further)
        tables = [_mistakes(db, jobs), _verification(db, jobs), _measures(db), _phases(db), _systems(db)]
        tables += [_causes(db), _symptoms(db), patterns.symptom_causes(db), _first_tests(db)]
        tables += [patterns.symptom_tests(db), _cost(db), patterns.names(db), told_alike]
        if people != "none":
            tables.append(_people(db, people, least))
    counted = ", of jobs told alike only the first" if once else ""
    return Study(jobs, chosen.said() + counted, tuple(tables))


def _one(db: duckdb.DuckDBPyConnection, query: str) -> int:
    found = db.execute(query).fetchone()
    return int(found[0]) if found else 0


def _mistakes(db: duckdb.DuckDBPyConnection, jobs: int) -> Table:
    rows = []
    for name, words in MISTAKES.items():
        best, low, high = db.execute(
            f"SELECT count(*) FILTER ({name} > 0), count(*) FILTER ({name}_low > 0),"
            f" count(*) FILTER ({name}_high > 0) FROM chosen"
        ).fetchall()[0]
        rows.append((words, best, *shared(best, jobs), low, high))
    note = (
        "Jobs with at least one. Share with a 95 % Wilson interval; the last two columns are how many jobs it"
        " would be if every unsure line were read the other way."
    )
    columns = ("job with", "jobs", "share", "from", "to", "jobs, at least", "jobs, at most")
    return Table("mistakes", "Where reasoning went astray", note, columns, tuple(rows))


def _verification(db: duckdb.DuckDBPyConnection, jobs: int) -> Table:
    found = db.execute("SELECT verification, count(*) FROM chosen GROUP BY 1 ORDER BY 2 DESC, 1").fetchall()
    rows = tuple((how, n, *shared(n, jobs)) for how, n in found)
    note = "How the last check after the last repair went."
    return Table("verification", "Checked afterwards", note, ("check", "jobs", "share", "from", "to"), rows)


def _figures(
    db: duckdb.DuckDBPyConnection, names: Sequence[str], where: str = "true"
) -> list[tuple[Any, ...]]:
    rows = []
    for name in names:
        n, best, low, high, middle, p10, p90 = db.execute(
            f"SELECT count({name}), avg({name}), avg({name}_low), avg({name}_high), median({name}),"
            f" quantile_cont({name}, 0.1), quantile_cont({name}, 0.9) FROM chosen WHERE {where}"
        ).fetchall()[0]
        if not n:
            continue
        about = _mean(db, name, n, where)
        numbers = (best, *(about or (None, None)), middle, p10, p90, low, high)
        shown = (None if x is None else round(float(x), 3) for x in numbers)
        rows.append((name.replace("_", " "), n, *shown))
    return rows


def _mean(db: duckdb.DuckDBPyConnection, name: str, n: int, where: str) -> tuple[float, float] | None:
    if n < intervals.MANY:
        found = db.execute(f"SELECT {name} FROM chosen WHERE {where} AND {name} IS NOT NULL ORDER BY session")
        return intervals.mean([row[0] for row in found.fetchall()])
    best, spread = db.execute(
        f"SELECT avg({name}), stddev_samp({name}) FROM chosen WHERE {where}"
    ).fetchall()[0]
    half = 1.96 * spread / n**0.5
    return best - half, best + half


_FIGURE = ("measure", "jobs", "mean", "from", "to", "median", "10 %", "90 %", "mean, low", "mean, high")


def _measures(db: duckdb.DuckDBPyConnection) -> Table:
    note = (
        "Mean with a 95 % interval (bootstrap; standard error from 2000 jobs on), median, and the range of"
        " four jobs in five. The last columns are the means of the low and high values, as unsure lines go."
    )
    names = [name for name in FIGURES if name not in _TIMES]
    return Table("measures", "Measures of a job", note, _FIGURE, tuple(_figures(db, names)))


_TIMES = ("cause_suspected", "intake", "search", "further", "repair", "to_cause")


def _phases(db: duckdb.DuckDBPyConnection) -> Table:
    note = "Seconds, as above; low leaves out time without sound."
    return Table("phases", "Time by phase", note, _FIGURE, tuple(_figures(db, _TIMES)))


def _systems(db: duckdb.DuckDBPyConnection) -> Table:
    found = db.execute(
        "SELECT system, count(*), median(to_cause), avg(tests),"
        " count(*) FILTER (parts_unneeded > 0), count(*) FILTER (conclusions_withdrawn > 0)"
        " FROM chosen WHERE system IS NOT NULL GROUP BY 1 ORDER BY 2 DESC, 1"
    ).fetchall()
    rows = tuple(
        (system, n, round(t, 1), round(tests, 2), unneeded, *shared(unneeded, n), gone, *shared(gone, n))
        for system, n, t, tests, unneeded, gone in found
    )
    columns = (
        "system of the cause", "jobs", "median seconds to cause", "tests a job", "unneeded part", "share",
        "from", "to", "conclusion withdrawn", "share ", "from ", "to ",
    )  # fmt: skip
    return Table("systems", "By system", "Grouped by the system of the first cause settled.", columns, rows)


def _causes(db: duckdb.DuckDBPyConnection) -> Table:
    found = db.execute(
        "SELECT x.component, count(DISTINCT x.session) FILTER (x.cause), count(DISTINCT x.session),"
        " median(x.rank) FILTER (x.cause) FROM suspects x JOIN chosen USING (session)"
        f" GROUP BY 1 HAVING count(*) FILTER (x.cause) > 0 ORDER BY 2 DESC, 1 LIMIT {TOP}"
    ).fetchall()
    rows = tuple((c, n, of, *shared(n, of), rank) for c, n, of, rank in found)
    columns = ("component", "was a cause in", "was suspected in", "share", "from", "to", "median rank")
    return Table("causes", "Causes found", "Of the jobs in which it was suspected.", columns, rows)


def _symptoms(db: duckdb.DuckDBPyConnection) -> Table:
    found = db.execute(
        "SELECT symptom, count(DISTINCT session), count(DISTINCT session) FILTER (chosen.cause IS NOT NULL)"
        " FROM symptoms JOIN chosen USING (session) GROUP BY 1 ORDER BY 2 DESC, 1"
    ).fetchall()
    rows = tuple((symptom, n, solved, *shared(solved, n)) for symptom, n, solved in found)
    columns = ("symptom", "jobs", "cause settled in", "share", "from", "to")
    return Table("symptoms", "By symptom", "A job may tell several symptoms.", columns, rows)


def _first_tests(db: duckdb.DuckDBPyConnection) -> Table:
    found = db.execute(
        "SELECT coalesce(x.component, 'not named'), count(*), count(*) FILTER (x.gained > 0), avg(x.gained)"
        " FROM tests x JOIN chosen USING (session) WHERE x.number = 1"
        f" GROUP BY 1 ORDER BY 2 DESC, 1 LIMIT {TOP}"
    ).fetchall()
    rows = tuple((c, n, paid, *shared(paid, n), round(bits, 3)) for c, n, paid, bits in found)
    columns = ("first test of", "jobs", "paid in", "share", "from", "to", "bits gained, mean")
    note = "A first test paid when it left less doubt among the open suspects."
    return Table("first_tests", "First tests, and whether they paid", note, columns, rows)


def _cost(db: duckdb.DuckDBPyConnection) -> Table:
    found = db.execute(
        "SELECT coalesce(x.currency, '?'), count(*) FILTER (x.unneeded), sum(x.amount) FILTER (x.unneeded),"
        " sum(x.amount) FILTER (x.unneeded AND x.sure), sum(x.amount)"
        " FROM fitted x JOIN chosen USING (session)"
        " WHERE x.amount IS NOT NULL AND (x.unneeded OR x.perhaps) GROUP BY 1 ORDER BY 1"
    ).fetchall()
    rows = tuple((c, n, *(round(float(x or 0), 2) for x in amounts)) for c, n, *amounts in found)
    columns = ("currency", "priced parts", "cost", "at least", "at most")
    return Table("cost", "What unneeded parts cost", "As priced when said.", columns, rows)


def _people(db: duckdb.DuckDBPyConnection, people: People, least: int) -> Table:
    """People in order of their name or pseudonym, never of a result; those with few jobs together."""
    found = db.execute(
        "SELECT person, count(*), count(*) FILTER (cause IS NOT NULL),"
        " count(*) FILTER (verification IN ('passed', 'failed')),"
        " count(*) FILTER (verification <> 'no repair'),"
        " count(*) FILTER (parts_untested > 0) FROM chosen WHERE person IS NOT NULL GROUP BY 1"
    ).fetchall()
    shown = [row for row in found if row[1] >= least]
    few = [row for row in found if row[1] < least]
    alias = pseudonyms([row[0] for row in shown]) if people == "pseudonyms" else {}
    lines = [(alias.get(row[0], row[0]), *row[1:]) for row in shown]
    lines.sort(key=lambda row: (len(str(row[0])), str(row[0])) if alias else (0, str(row[0])))
    if few:
        together = tuple(sum(row[n] for row in few) for n in range(1, 6))
        lines.append((f"{len(few)} with fewer than {least} jobs each, together", *together))
    rows = tuple(
        (name, n, *shared(solved, n), *shared(checked, mended), *shared(untested, n))
        for name, n, solved, checked, mended, untested in lines
    )
    columns = (
        "person", "jobs", "cause settled", "from", "to", "repair checked", "from ", "to ", "part untested",
        "from  ", "to  ",
    )  # fmt: skip
    note = (
        f"Nobody with fewer than {least} jobs is shown alone, and nobody is ranked: the order is that of the"
        " names. People get different jobs and narrate differently; intervals that overlap tell no one apart."
    )
    return Table("people", "People", note, columns, rows)
