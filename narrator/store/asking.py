"""What makes the derived tables easy to ask: indexes, full-text search of suspects and tests, and views.

The views are for people with another program (docs/store.md): one row a thing, with the job it belongs to.
"""

from __future__ import annotations

from sqlite_utils import Database

INDEXED = {"hypotheses": ("component", "fault"), "tests": ("procedure", "component", "result")}
"""Derived tables with a full-text index, and the columns in it."""

_JOB = "s.id AS session, s.started, coalesce(v.said, s.vehicle) AS vehicle"
_OF = "JOIN sessions s ON s.id = x.session LEFT JOIN vehicles v ON v.session = s.id"

VIEWS: dict[str, str] = {
    "job_causes": f"""
SELECT {_JOB}, x.component, x.fault, x.statement FROM hypotheses x {_OF} WHERE x.status = 'confirmed'
""",
    "job_suspects": f"""
SELECT {_JOB}, x.id, x.component, x.fault, x.status, x.statement FROM hypotheses x {_OF}
""",
    "job_tests": f"""
SELECT {_JOB}, x.id, x.component, x.outcome, x.procedure, x.result FROM tests x {_OF}
""",
    "job_codes": f"""
SELECT DISTINCT {_JOB}, x.code FROM codes x {_OF}
""",
    "job_concerns": f"""
SELECT {_JOB}, l.utterance, l.clean AS said FROM acts x
JOIN lines l ON l.session = x.session AND l.utterance = x.utterance {_OF} WHERE x.act = 'concern'
""",
    "component_outcomes": """
SELECT component, count(*) AS suspected, sum(status = 'confirmed') AS confirmed,
       sum(status = 'ruled_out') AS cleared, sum(status = 'open') AS open, count(DISTINCT session) AS jobs
FROM hypotheses WHERE component IS NOT NULL GROUP BY component
""",
}


def drop_asking(db: Database) -> bool:
    """Take all of it away; tells whether any was there."""
    views = [name for name in VIEWS if name in db.view_names()]
    for name in views:
        db.view(name).drop()
    for name in INDEXED:
        if db.table(name).exists() and db.table(name).detect_fts():
            db.table(name).disable_fts()
    return bool(views)


def make_asking(db: Database) -> None:
    """Make it over the derived tables as they stand."""
    for name, columns in INDEXED.items():
        db.table(name).enable_fts(
            list(columns), create_triggers=True, tokenize="porter unicode61 remove_diacritics 2"
        )
    for name, query in VIEWS.items():
        db.create_view(name, query)
    for table, columns in (
        ("records", ("session", "sha256", "rules")), ("codes", ("code", "session")),
        ("acts", ("act", "session", "utterance")), ("hypotheses", ("component", "session")),
        ("hypotheses", ("status", "session")), ("tests", ("outcome", "session")),
        ("parts", ("state", "name", "session")), ("verifications", ("session", "outcome")),
    ):  # fmt: skip
        db.table(table).create_index(list(columns), if_not_exists=True)
    db.table("sessions").create_index(["started"], if_not_exists=True)
    db.table("utterances").create_index(["speaker", "session"], if_not_exists=True)
