"""Which jobs a study is of, and how people are named in it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from typing import Literal

from narrator.errors import NarratorError

People = Literal["pseudonyms", "names", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """Jobs that have everything that is given; ``without`` leaves out the jobs of these people.

    ``component`` must be part of a suspect's name; ``since`` and ``until`` are dates, both included.
    """

    system: str = ""
    component: str = ""
    symptom: str = ""
    code: str = ""
    person: str = ""
    since: str = ""
    until: str = ""
    without: tuple[str, ...] = ()

    def where(self) -> tuple[str, list[object]]:
        """The condition on table ``jobs`` j, and its values."""
        clauses: list[str] = ["true"]
        values: list[object] = []
        some = "EXISTS (SELECT 1 FROM {} x WHERE x.session = j.session AND {})"
        for value, clause in (
            (self.system, some.format("suspects", "x.system = ?")),
            (self.component.lower(), some.format("suspects", "contains(x.component, ?)")),
            (self.symptom.lower(), some.format("symptoms", "contains(lower(x.symptom), ?)")),
            (self.code.upper().replace("*", "%"), some.format("codes", "x.code LIKE ?")),
            (self.person, "j.person = ?"),
            (self.since, "left(j.started, 10) >= ?"),
            (self.until, "left(j.started, 10) <= ?"),
        ):
            if value:
                clauses.append(clause)
                values.append(value)
        for name in self.without:
            clauses.append("j.person IS DISTINCT FROM ?")
            values.append(name)
        return " AND ".join(clauses), values

    def said(self) -> str:
        """The selection in words; people who are left out are not named."""
        given = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "without"}
        words = [f"{name} {value}" for name, value in given.items() if value and name != "person"]
        words += ["one person"] if self.person else []
        words += [f"{len(self.without)} person(s) left out"] if self.without else []
        return ", ".join(words) or "all jobs"


def check_days(since: str, until: str) -> None:
    """See that some day is meant; either may be empty.

    Raises:
        NarratorError: E808 when the first day is later than the last.
    """
    if since and until and since > until:
        raise NarratorError("E808", since=since, until=until)


def pseudonyms(names: list[str]) -> dict[str, str]:
    """Person 1, Person 2 ... in an order that tells nothing of the names or of their results."""
    order = sorted(names, key=lambda name: hashlib.sha256(name.encode()).digest())
    return {name: f"Person {n}" for n, name in enumerate(order, start=1)}
