"""The TOML source of an annotated narration, checked on reading (the format is told in README.md)."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Status = Literal["open", "ruled_out", "confirmed"]
Outcome = Literal["pass", "fail", "inconclusive"]
PartState = Literal["needed", "ordered", "received", "fitted"]
Totals = tuple[int, int]
"""How many fasteners were removed, and how many installed."""


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Hypothesis(_Table):
    """A suspect and how it stands at the end."""

    statement: str
    keywords: list[str] = Field(min_length=1)
    status: Status
    status_ok: list[Status] | None = None
    not_keywords: list[str] | None = None
    reopened: bool = False
    optional: bool = False


class Tagged(_Table):
    """A table that points at lines of the text by their tags."""

    tags: list[str] = []


class Check(Tagged):
    """A deliberate check before the repair; ``pass`` means that the thing was found good."""

    keywords: list[str] = Field(min_length=1)
    outcome: Outcome
    outcome_ok: list[Outcome] | None = None
    tags: list[str] = Field(min_length=1)
    optional: bool = False


class Correction(Tagged):
    """Work that changes the machine for good."""

    action: str
    keywords: list[str] = Field(min_length=1)
    optional: bool = False


class Verification(Tagged):
    """A check after the repair and how it went."""

    outcome: Literal["pass", "fail"]
    tags: list[str] = Field(min_length=1)
    optional: bool = False


class Part(_Table):
    """A part, its number and price if said, and how far it has come at the end."""

    name: str
    number: str | None = None
    amount: str | None = None
    currency: str | None = None
    state: PartState
    state_ok: list[PartState] | None = None
    optional: bool = False


class Odometer(_Table):
    """A distance reading."""

    value: int
    unit: Literal["km", "mi"]
    optional: bool = False


class Vehicle(_Table):
    """What was said of the machine."""

    year: int | None = None
    make: str | None = None
    model: str | None = None
    vin: str | None = None
    odometer: Odometer | None = None


class Narration(_Table):
    """One annotated job: marked-up text and what a careful reader makes of it as a whole."""

    title: str
    note: str
    speaker: str
    trade: str
    form: Literal["recognizer", "punctuated", "slips"] = "recognizer"
    text: str
    hypotheses: list[Hypothesis] = []
    causes: list[list[str]] = []
    causes_ok: list[list[str]] = []
    tests: list[Check] = []
    corrections: list[Correction] = []
    verifications: list[Verification] = []
    verification: Literal["pass", "fail", "none"]
    parts: list[Part] = []
    open_items: list[list[str]] = []
    vehicle: Vehicle = Vehicle()
    ledger_expect: dict[str, Totals] = {}
    ledger_ok: dict[str, list[Totals]] = {}
    ledger_optional: list[str] = []


def read(path: Path) -> Narration:
    """The narration written in ``path``; raises ``ValueError`` when it is not as README.md says."""
    return Narration.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
