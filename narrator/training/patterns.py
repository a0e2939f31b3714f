"""What comes back from job to job: causes and first tests by symptom, names of one thing, jobs told alike."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from narrator.language.vocabulary import vocabulary
from narrator.training import alike
from narrator.training.table import TOP, Table, shared

if TYPE_CHECKING:
    import duckdb

EACH = 3
"""Rows shown of each symptom."""

_SYMPTOM_CAUSES = f"""
WITH told AS (SELECT DISTINCT session, symptom FROM symptoms JOIN chosen USING (session)),
     jobs AS (SELECT symptom, count(*) AS jobs FROM told GROUP BY 1),
     found AS (SELECT symptom, x.component, count(DISTINCT session) AS n
               FROM told JOIN suspects x USING (session) WHERE x.cause GROUP BY 1, 2)
SELECT symptom, component, n, jobs FROM found JOIN jobs USING (symptom)
QUALIFY row_number() OVER (PARTITION BY symptom ORDER BY n DESC, component) <= {EACH}
ORDER BY jobs DESC, symptom, n DESC, component
"""

_SYMPTOM_TESTS = f"""
WITH told AS (SELECT DISTINCT session, symptom FROM symptoms JOIN chosen USING (session)),
     found AS (SELECT symptom, coalesce(x.component, 'not named') AS component, count(*) AS n,
                      count(*) FILTER (x.gained > 0) AS paid, avg(x.gained) AS bits
               FROM told JOIN tests x USING (session) WHERE x.number = 1 GROUP BY 1, 2)
SELECT symptom, component, paid, n, bits FROM found
QUALIFY row_number() OVER (PARTITION BY symptom ORDER BY n DESC, component) <= {EACH}
ORDER BY sum(n) OVER (PARTITION BY symptom) DESC, symptom, n DESC, component
"""


def symptom_causes(db: duckdb.DuckDBPyConnection) -> Table:
    """The causes found most often for each symptom."""
    rows = tuple(
        (symptom, component, n, jobs, *shared(n, jobs))
        for symptom, component, n, jobs in db.execute(_SYMPTOM_CAUSES).fetchall()
    )
    note = f"Of the jobs that tell the symptom; the {EACH} most frequent causes of each."
    columns = ("symptom", "cause", "found in", "of jobs", "share", "from", "to")
    return Table("symptom_causes", "Causes by symptom", note, columns, rows)


def symptom_tests(db: duckdb.DuckDBPyConnection) -> Table:
    """The first tests made most often for each symptom, and how often they paid."""
    rows = tuple(
        (symptom, component, paid, n, *shared(paid, n), round(bits, 3))
        for symptom, component, paid, n, bits in db.execute(_SYMPTOM_TESTS).fetchall()
    )
    note = f"The {EACH} most frequent ones of each; one paid when it left less doubt among the open suspects."
    columns = ("symptom", "first test of", "paid in", "of jobs", "share", "from", "to", "bits gained, mean")
    return Table("symptom_tests", "First tests by symptom", note, columns, rows)


def names(db: duckdb.DuckDBPyConnection) -> Table:
    """Things that people call by several names, with the names and the jobs they were heard in."""
    heard = db.execute(
        "SELECT component, count(DISTINCT session) FROM components JOIN chosen USING (session) GROUP BY 1"
    ).fetchall()
    known = vocabulary()
    leads = {known.key(e.name): e.lead for e in reversed(known.entries) if e.kind == "component"}
    things: dict[str, list[tuple[int, str]]] = defaultdict(list)
    for name, jobs in heard:
        if lead := leads.get(known.key(name)):
            things[lead].append((jobs, name))
    several = {
        lead: sorted(said, key=lambda s: (-s[0], s[1])) for lead, said in things.items() if len(said) > 1
    }
    order = sorted(several.items(), key=lambda thing: (-sum(n for n, _ in thing[1]), thing[0]))
    rows = tuple(
        (lead, sum(n for n, _ in said), ", ".join(f"{name} {n}" for n, name in said))
        for lead, said in order[:TOP]
    )
    note = "Known things that were called by more than one name; the number of jobs after each name."
    return Table("names", "What things are called", note, ("thing", "named in", "called"), rows)


def told_alike(db: duckdb.DuckDBPyConnection, likeness: float) -> tuple[Table, list[str]]:
    """Groups of jobs told alike; and every job of them but the first."""
    kept = db.execute(
        "SELECT session, started, sketch FROM sketches JOIN chosen USING (session) ORDER BY started, session"
    ).fetchall()
    found = alike.groups(alike.read([row[2] for row in kept]), likeness)
    rows = tuple(
        (kept[g.jobs[0]][0], kept[g.jobs[0]][1][:10], len(g.jobs), round(min(g.likeness), 2),
         ", ".join(kept[n][0] for n in g.jobs[1:4]) + (" ..." if len(g.jobs) > 4 else ""))
        for g in found[:TOP]
    )  # fmt: skip
    note = (
        f"Jobs with {likeness:.0%} or more of their pairs of words in common: kept twice, or told again."
        " Each is like another of its group, not always like the first; the"
        f" likeness is an estimate (within 0.09 in 95 of 100). {len(found):,} group(s), {len(kept):,} job(s)"
        " long enough to tell."
    )
    columns = ("first job", "day", "jobs", "least likeness", "the others")
    further = [kept[n][0] for g in found for n in g.jobs[1:]]
    return Table("alike", "Jobs told alike", note, columns, rows), further
