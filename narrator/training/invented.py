"""A made-up corpus, seeded: invented jobs on invented machines, to see how things hold at scale.

Every session is labelled (source ``invented corpus``, rules ``invented``): its record is made here with its
words, not derived from them, so that a hundred thousand can be made in minutes. It teaches nothing of the
trade.
"""

from __future__ import annotations

import hashlib
import json
import random
import time
from collections import defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

from narrator.store import Writer
from narrator.store.flatten import flatten
from narrator.store.ids import new_id
from narrator.store.rows import NewSession
from narrator.values import Utterance

SOURCE = "invented corpus"
_MAKES = "Halden Corrib Ardenna Ostrey Tamsin Brisco Pohuta Velk Quill Marran".split()
_MODELS = "Crest Tern Volo Packhorse Arrow Vale Marlin Sedge Dorn Plover".split()
_PEOPLE = [f"invented{n:02}" for n in range(1, 41)]
_KINDS: tuple[tuple[str, str, str], ...] = (
    ("the battery goes flat overnight",
     "alternator,battery,ground strap,dash cam,glovebox lamp,relay,door switch", "draw with the clamp meter"),
    ("it won't crank when it's hot",
     "starter,starter relay,battery cable,ignition switch,ground strap,clutch switch", "voltage drop"),
    ("loses power on the hill",
     "fuel filter,fuel pump,air filter,throttle body,injector,exhaust", "fuel pressure"),
    ("it overheats in traffic", "thermostat,water pump,radiator,cooling fan,radiator cap,head gasket",
     "temperature at the hose"),
    ("there's a clonk from the front", "top mount,drop link,ball joint,lower arm,spring,strut", "pry bar"),
    ("it drags after ten minutes", "caliper,brake hose,master cylinder,pad,slide pin,handbrake cable",
     "crack the bleeder"),
    ("there's oil dripping on the drive", "rocker cover gasket,sump gasket,crank seal,oil filter,drain plug",
     "dye and lamp"),
    ("misfires under load", "ignition coil,spark plug,injector,ignition lead,intake hose", "swap the coil"),
)  # fmt: skip


_Made = tuple[NewSession, list[Utterance], dict[str, Any]]


def jobs(count: int, seed: int = 1) -> Iterator[_Made]:
    """Sessions with what was said and the record of it; the same seed gives the same."""
    rng = random.Random(f"invented corpus {seed}")
    day = datetime(2031, 1, 6, 8, tzinfo=UTC)
    for _ in range(count):
        day += timedelta(minutes=rng.randrange(1, 30))
        yield _job(rng, day)


class _Talk:
    """The lines of one job as they are said."""

    def __init__(self, rng: random.Random, person: str) -> None:
        self.rng, self.person = rng, person
        self.clock = rng.uniform(0.5, 3)
        self.rows: list[dict[str, Any]] = []

    def say(self, text: str, *acts: str, component: str = "", code: str = "", unsure: bool = False) -> int:
        """Say a line; gives its number."""
        named = [{"type": "component", "name": component}] if component else []
        named += [{"type": "dtc", "code": code}] if code else []
        start = round(self.clock, 2)
        self.clock += len(text.split()) / 2.8 + self.rng.uniform(1, 40)
        repair = {"span": (0, 3), "heard": "the", "meant": "the", "rule": "invented"}
        self.rows.append({
            "id": len(self.rows) + 1, "start": start, "end": round(start + len(text.split()) / 2.8, 2),
            "text": text, "clean": text, "acts": list(acts), "entities": named,
            "repairs": [repair] if unsure else [],
        })  # fmt: skip
        return len(self.rows)


def _job(rng: random.Random, day: datetime) -> _Made:
    concern, names, method = rng.choice(_KINDS)
    person = rng.choice(_PEOPLE)
    vehicle = {"year": rng.randrange(1998, 2030), "make": rng.choice(_MAKES), "model": rng.choice(_MODELS)}
    talk = _Talk(rng, person)
    talk.say(f"invented job on a {vehicle['year']} {vehicle['make']} {vehicle['model']}", "concern")
    talk.say(concern, "concern")
    if rng.random() < 0.4:
        talk.say("it shows a code", "result", code=f"P0{rng.randrange(100, 800)}")
    pool = names.split(",")
    suspects = rng.sample(pool, rng.randrange(2, min(5, len(pool)) + 1))
    record = _reason(rng, talk, suspects, method)
    new = NewSession(day.isoformat(timespec="seconds"), SOURCE, "invented", None)
    said = [Utterance(r["id"], r["start"], r["end"], r["text"], speaker=person) for r in talk.rows]
    empty: dict[str, Any] = {"measurements": [], "open_items": []}
    head = {"contract": 1, "rules": "invented", "vehicle": vehicle, "utterances": talk.rows}
    return new, said, head | record | empty


def _reason(rng: random.Random, talk: _Talk, names: list[str], method: str) -> dict[str, Any]:
    """Suspect, test, clear and settle, with the mistakes that people make."""
    history: dict[str, list[dict[str, Any]]] = {}
    tests: list[dict[str, Any]] = []
    parts: list[dict[str, Any]] = []
    mended: list[dict[str, Any]] = []
    checks: list[dict[str, Any]] = []

    def turn(name: str, status: str, line: int) -> None:
        history.setdefault(name, []).append({"status": status, "utterance": line})

    def fit(name: str) -> None:
        price = f"{rng.randrange(500, 15000) / 100:.2f}"
        line = talk.say(f"new {name} on {price} euros", "step", "part", component=name)
        parts.append({"name": name, "price": {"amount": price, "currency": "EUR"}, "state": "fitted",
                      "utterances": [line]})  # fmt: skip
        mended.append({"action": "replace", "component": name, "utterances": [line]})

    for name in names[: rng.randrange(1, len(names) + 1)]:
        turn(name, "open", talk.say(f"could be the {name}", "hypothesis", component=name))
    cause = rng.choice(names)
    if rng.random() < 0.15 and names[0] != cause:
        turn(names[0], "confirmed", talk.say(f"it's the {names[0]}", "confirmed", component=names[0]))
        fit(names[0])
        checks.append({"text": "no better", "outcome": "fail",
                       "utterances": [talk.say("no better", "verification")]})  # fmt: skip
        turn(names[0], "ruled_out", talk.say(f"so not the {names[0]}", "ruled_out", component=names[0]))
    solved = rng.random() < 0.93
    for name in rng.sample(names, len(names)):
        if name not in history:
            turn(name, "open", talk.say(f"or the {name}", "hypothesis", component=name))
        bad = name == cause and solved
        said = f"{method} on the {name} found {'bad' if bad else 'good'}"
        line = talk.say(said, "test", "result", component=name, unsure=rng.random() < 0.05)
        tests.append({"id": f"T{len(tests) + 1}", "procedure": said, "component": name,
                      "outcome": "fail" if bad else "pass", "name": name, "utterances": [line]})  # fmt: skip
        if bad:
            turn(name, "confirmed", talk.say(f"that's it the {name}", "confirmed", component=name))
            fit(name)
            break
        if history[name][-1]["status"] == "open" and (name != cause or solved):
            turn(name, "ruled_out", talk.say(f"the {name} is fine", "ruled_out", component=name))
    if solved and rng.random() < 0.85:
        good = rng.random() < 0.95
        line = talk.say("road test all good" if good else "road test still there", "verification")
        checks.append({"text": "road test", "outcome": "pass" if good else "fail", "utterances": [line]})
    ids = {name: f"H{n}" for n, name in enumerate(history, start=1)}
    off = rng.randrange(0, 9)
    return {
        "hypotheses": [
            {"id": ids[n], "statement": f"could be the {n}", "component": n, "status": h[-1]["status"],
             "history": h} for n, h in history.items()
        ],
        "tests": [
            {k: v for k, v in t.items() if k != "name"} | {"hypotheses": [ids[t["name"]]]} for t in tests
        ],
        "corrections": mended, "verifications": checks, "parts": parts,
        "fasteners": [{"kind": "bolt", "removed": off, "installed": max(0, off - (rng.random() < 0.08))}],
    }  # fmt: skip


def fill(home: Path, count: int, seed: int = 1, batch: int = 1000) -> int:
    """Put a made-up corpus into the store of a home, many rows at a time; gives the number of utterances."""
    lines, source = 0, jobs(count, seed)
    with Writer(home) as writer:
        while some := list(islice(source, batch)):
            tables = _tables(some)
            with writer.transaction() as db:
                for name, rows in tables.items():
                    columns = list(rows[0])
                    marks = ", ".join("?" * len(columns))
                    named = ", ".join(f'"{c}"' for c in columns)
                    values = [[row[c] for c in columns] for row in rows]
                    db.conn.executemany(f"INSERT INTO {name} ({named}) VALUES ({marks})", values)
            lines += len(tables["utterances"])
    return lines


def _tables(some: list[_Made]) -> dict[str, list[dict[str, Any]]]:
    """The rows of the store's tables for some sessions; no facts version fits, so all count as stale."""
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    now = time.time_ns() // 1_000_000
    for n, (new, said, record) in enumerate(some):  # a millisecond apart, so that no two ids are the same
        session, text = new_id(now + n), json.dumps(record, separators=(",", ":"))
        found["sessions"].append({"id": session, "started": new.started, "source": new.source,
                                  "engine": new.engine, "vehicle": new.vehicle or ""})  # fmt: skip
        found["endings"].append({"session": session, "ended": new.started, "audio_seconds": None,
                                 "how": "complete"})  # fmt: skip
        found["utterances"] += [
            {"session": session, "id": u.id, "start": u.start, "end": u.end, "text": u.text,
             "speaker": u.speaker, "engine": "invented", "timing": None} for u in said
        ]  # fmt: skip
        digest = hashlib.sha256(text.encode()).hexdigest()
        found["records"].append({"session": session, "rules": record["rules"], "record": text,
                                 "sha256": digest, "facts": "invented"})  # fmt: skip
        for name, rows in flatten(record).items():
            for position, row in enumerate(rows):
                head = {"session": session, "rules": record["rules"], "position": position}
                found[name].append(head | row)
    return found
