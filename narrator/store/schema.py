"""The tables, as recorded migrations: facts, then search, then what is derived.

A released migration is never edited: add one below and the version follows. ``user_version`` of the file
holds how many it has had, so that an older program knows a newer file before it touches anything.
"""

from __future__ import annotations

from sqlite_utils import Database, Migrations

from narrator.store.asking import drop_asking, make_asking
from narrator.store.flatten import DERIVED

APPLICATION_ID = 0x6E617272
"""``PRAGMA application_id`` of our files ("narr" in ASCII)."""

migrations = Migrations("narrator")

FACTS: dict[str, dict[str, type]] = {
    "endings": {"session": str, "ended": str, "audio_seconds": float, "how": str},
    "utterances": {"session": str, "id": int, "start": float, "end": float, "text": str, "speaker": str,
                   "engine": str, "timing": str},
    "words": {"session": str, "utterance": int, "position": int, "word": str, "start": float, "end": float,
              "conf": float},
    "corrections": {"session": str, "utterance": int, "text": str, "who": str, "when": str, "reason": str},
    "strikes": {"session": str, "utterance": int, "struck": int, "who": str, "when": str, "reason": str},
    "marks": {"session": str, "at": float, "kind": str, "text": str},
    "gaps": {"session": str, "start": float, "end": float, "reason": str},
    "sounds": {"session": str, "file": str, "start": float, "sha256": str},
}  # fmt: skip
"""Fact tables beside ``sessions``; each also has ``seq``, the order in which its rows were kept.

Part of the first migration: a new column is a new migration, not an edit here.
"""

REVIEW: dict[str, dict[str, type]] = {
    "decisions": {"session": str, "look": str, "utterance": int, "decision": str, "who": str, "when": str,
                  "note": str},
    "approvals": {"session": str, "revision": int, "rules": str, "record": str, "sha256": str, "facts": str,
                  "who": str, "when": str},
    "reopenings": {"session": str, "revision": int, "who": str, "when": str, "reason": str},
}  # fmt: skip
"""Fact tables of reviewing, made by the migration ``review``: what people decided about a job."""

ADDITIONS: dict[str, dict[str, type]] = {
    "additions": {"session": str, "utterance": int, "after": int, "who": str, "when": str, "reason": str},
}
"""Fact table of lines that were not said (migration ``added_lines``); their words are utterances."""

_MAY_BE_NULL = {"speaker", "engine", "timing", "conf", "audio_seconds", "decisions.utterance"}
_UNIQUE = {
    "endings": ("session",),
    "utterances": ("session", "id"),
    "words": ("session", "utterance", "position"),
    "approvals": ("session", "revision"),
    "reopenings": ("session", "revision"),
    "additions": ("session", "utterance"),
}


@migrations()
def facts(db: Database) -> None:
    """Sessions and what was heard or said about them; kept for good unless a session is forgotten."""
    db.table("erasures").create({"session": str}, pk="session", strict=True)
    db.table("sessions").create(
        {"id": str, "started": str, "source": str, "engine": str, "vehicle": str},
        pk="id", not_null={"started"}, strict=True,
    )  # fmt: skip
    _guard(db, "sessions", "id", "id = NEW.id")
    for name, columns in FACTS.items():
        _fact_table(db, name, columns)


def _fact_table(db: Database, name: str, columns: dict[str, type]) -> None:
    table = db.table(name)
    table.create(
        {"seq": int, **columns},
        pk="seq",
        not_null={column for column in columns if not {column, f"{name}.{column}"} & _MAY_BE_NULL},
        foreign_keys=[("session", "sessions", "id")],
        strict=True,
    )
    unique = _UNIQUE.get(name)
    table.create_index(list(unique or ("session",)), unique=unique is not None)
    same = " AND ".join(f'"{column}" = NEW."{column}"' for column in unique or ())
    _guard(db, name, "session", f"seq = NEW.seq OR ({same})" if same else "seq = NEW.seq")


def _guard(db: Database, name: str, session: str, same: str) -> None:
    """Refuse changes to a fact, whichever program makes them.

    A row may go only while its session is being erased. REPLACE fires no delete trigger in most programs,
    hence the third trigger.
    """
    refuse = f"BEGIN SELECT RAISE(ABORT, '{name} is append-only'); END"
    db.execute(f"CREATE TRIGGER {name}_no_update BEFORE UPDATE ON {name} {refuse}")
    db.execute(
        f"CREATE TRIGGER {name}_no_delete BEFORE DELETE ON {name}"
        f" WHEN OLD.{session} NOT IN (SELECT session FROM erasures) {refuse}"
    )
    db.execute(
        f"CREATE TRIGGER {name}_no_replace BEFORE INSERT ON {name}"
        f" WHEN EXISTS (SELECT 1 FROM {name} WHERE {same}) {refuse}"
    )


@migrations()
def search(db: Database) -> None:
    """One line an utterance, heard and clean, and a full-text index that triggers keep in step."""
    lines = db.table("lines")
    lines.create(
        {"seq": int, "session": str, "utterance": int, "heard": str, "clean": str},
        pk="seq", not_null={"session", "utterance", "heard", "clean"}, strict=True,
    )  # fmt: skip
    lines.create_index(["session", "utterance"], unique=True)
    db.execute(
        "INSERT INTO lines(session, utterance, heard, clean)"
        " SELECT session, id, text, text FROM utterances ORDER BY seq"
    )
    lines.enable_fts(
        ["heard", "clean"], create_triggers=True, tokenize="porter unicode61 remove_diacritics 2"
    )
    for moment, change in (
        ("INSERT ON utterances", "INSERT INTO lines(session, utterance, heard, clean)"
                                 " VALUES (NEW.session, NEW.id, NEW.text, NEW.text)"),
        ("DELETE ON utterances", "DELETE FROM lines WHERE session = OLD.session AND utterance = OLD.id"),
        ("INSERT ON corrections", "UPDATE lines SET clean = NEW.text"
                                  " WHERE session = NEW.session AND utterance = NEW.utterance"),
    ):  # fmt: skip
        name = "lines_follow_" + moment.lower().replace(" on ", "_")
        db.execute(f"CREATE TRIGGER {name} AFTER {moment} BEGIN {change}; END")


@migrations()
def derived(db: Database) -> None:
    """Records and the flat tables drawn from them."""
    remake_derived(db)


@migrations()
def review(db: Database) -> None:
    """What people decided while reviewing; and, derived, what they should look at."""
    for name, columns in REVIEW.items():
        _fact_table(db, name, columns)
    db.table("decisions").create_index(["session", "look"])
    remake_derived(db)


@migrations()
def asking(db: Database) -> None:
    """Indexes, full-text search and views over what is derived."""
    make_asking(db)


@migrations()
def two_ears(db: Database) -> None:
    """What a second recognizer heard in place of a word, where both readings want a look."""
    db.table("words").add_column("other", str)


@migrations()
def asking_faster(db: Database) -> None:
    """Fitted parts are found from their index alone."""
    db.execute('DROP INDEX IF EXISTS "idx_parts_state_name"')
    db.table("parts").create_index(["state", "name", "session"], if_not_exists=True)


@migrations()
def asking_by_system(db: Database) -> None:
    """Suspected components are listed from an index alone."""
    db.table("hypotheses").create_index(["component", "session"], if_not_exists=True)


@migrations()
def asking_by_concern(db: Database) -> None:
    """Lines that tell a concern are known from an index alone."""
    db.execute('DROP INDEX IF EXISTS "idx_acts_act_session"')
    db.table("acts").create_index(["act", "session", "utterance"], if_not_exists=True)


@migrations()
def asking_by_ending(db: Database) -> None:
    """How suspects and tests ended is known from indexes alone."""
    for table, column in (("hypotheses", "status"), ("tests", "outcome")):
        db.table(table).create_index([column, "session"], if_not_exists=True)


@migrations()
def added_lines(db: Database) -> None:
    """Who added which utterance that was not said."""
    for name, columns in ADDITIONS.items():
        _fact_table(db, name, columns)


def remake_derived(db: Database) -> None:
    """Make the derived tables anew and empty: sessions without a record are derived when next asked for.

    Whoever changes ``DERIVED`` adds a migration that calls this.
    """
    asked = drop_asking(db)
    if "session_list" in db.view_names():
        db.view("session_list").drop()
    for name in ("records", *DERIVED):
        db.table(name).drop(ignore=True)
    db.table("records").create(
        {"session": str, "rules": str, "record": str, "sha256": str, "facts": str},
        pk="session", not_null={"rules", "record", "sha256", "facts"}, strict=True,
        foreign_keys=[("session", "sessions", "id")],
    )  # fmt: skip
    for name, columns in DERIVED.items():
        table = db.table(name)
        table.create(
            {"seq": int, "session": str, "rules": str, "position": int, **columns},
            pk="seq",
            not_null={"session", "rules", "position"},
            foreign_keys=[("session", "sessions", "id")],
            strict=True,
        )
        table.create_index(["session"])
    db.create_view("session_list", _SESSION_LIST)
    if asked:
        make_asking(db)


_SESSION_LIST = """
SELECT s.id, s.started, s.source, s.engine, coalesce(v.said, s.vehicle) AS vehicle, e.audio_seconds,
       (SELECT coalesce(max(u."end"), 0.0) FROM utterances u WHERE u.session = s.id) AS spoken_until,
       (SELECT count(*) FROM utterances u WHERE u.session = s.id) AS utterances,
       (SELECT count(*) FROM gaps g WHERE g.session = s.id) AS gaps,
       coalesce(e.how, 'open') AS state
FROM sessions s
LEFT JOIN endings e ON e.session = s.id
LEFT JOIN vehicles v ON v.session = s.id
ORDER BY s.started, s.id
"""

SCHEMA = len(migrations.pending(Database(memory=True)))
"""Version of the schema that this program knows."""
