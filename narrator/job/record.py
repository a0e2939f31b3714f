"""The job record: typed models of the contract, version 1 (docs/contract.md, docs/record.schema.json).

Fields may be added, never renamed or dropped without a new version. Lists keep the order of first mention.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from narrator.values import Act

CONTRACT: Literal[1] = 1

Status = Literal["open", "ruled_out", "confirmed"]
Outcome = Literal["pass", "fail", "inconclusive"]


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid")


class SizeRow(_Model):
    """A size as said: unit ``mm``, ``in`` or ``T`` (Torx number)."""

    value: float
    unit: str


class OdometerRow(_Model):
    """A distance reading of the vehicle, ``km`` or ``mi``."""

    value: int
    unit: str


class VehicleRow(_Model):
    """What was said of the vehicle; null where nothing was said. ``vin_check`` tells of its check digit."""

    year: int | None = None
    make: str | None = None
    model: str | None = None
    vin: str | None = None
    vin_check: bool | None = None
    odometer: OdometerRow | None = None


class RepairRow(_Model):
    """A recognition slip as heard and as read."""

    span: tuple[int, int]
    heard: str
    meant: str
    rule: str


NOT_SAID = "(added, not said)"
"""Behind the words of a line that a person added."""


class UtteranceRow(_Model):
    """An utterance as heard, its readable form, and what it does and names."""

    id: int
    start: float
    end: float
    text: str
    clean: str
    acts: list[Act]
    entities: list[dict[str, Any]]
    repairs: list[RepairRow] = Field(default_factory=list)
    struck: bool = False
    corrected: str | None = None
    added: bool = False
    """A person added it: it was not said, and no sound is behind it."""

    @property
    def told(self) -> str:
        """Its readable words; of a line that was added, that it was not said."""
        return f"{self.clean} {NOT_SAID}" if self.added else self.clean


class HistoryRow(_Model):
    """One change of a suspect's status and the utterance that made it."""

    status: Status
    utterance: int


class EvidenceRow(_Model):
    """What speaks for or against a suspect."""

    stance: Literal["supports", "contradicts"]
    utterance: int
    test: str | None = None


class HypothesisRow(_Model):
    """A suspect: one identity through its whole history. ``consequence_of`` names the cause that made it."""

    id: str
    statement: str
    component: str
    fault: str | None = None
    status: Status
    history: list[HistoryRow]
    evidence: list[EvidenceRow] = Field(default_factory=list)
    consequence_of: str | None = None


class LimitRow(_Model):
    """A limit a reading was held against, who gave it, and whether the reading keeps it."""

    low: float | None = None
    high: float | None = None
    unit: str
    source: str


class TestRow(_Model):
    """A check of one thing: ``pass`` means found good, ``fail`` found bad."""

    __test__ = False

    id: str
    procedure: str
    component: str | None = None
    result: str | None = None
    outcome: Outcome
    hypotheses: list[str] = Field(default_factory=list)
    utterances: list[int]


class CorrectionRow(_Model):
    """Work that changes the machine's state for good."""

    action: str
    component: str
    utterances: list[int]


class VerificationRow(_Model):
    """A check after a repair, and how it went."""

    text: str
    outcome: Literal["pass", "fail"]
    utterances: list[int]


class FastenerRow(_Model):
    """One group of fasteners: how many came off and how many went back on, as narrated."""

    kind: str
    size: SizeRow | None = None
    drive: str | None = None
    location: str | None = None
    removed: int
    installed: int
    utterances: list[int] = Field(default_factory=list)


class PriceRow(_Model):
    """An amount as a decimal string, and an ISO 4217 currency code where one is known."""

    amount: str
    currency: str | None = None


class PartRow(_Model):
    """A part and how far it has come."""

    name: str
    number: str | None = None
    price: PriceRow | None = None
    state: Literal["needed", "ordered", "received", "fitted"]
    utterances: list[int] = Field(default_factory=list)


class MeasurementRow(_Model):
    """A value as said, with its unit; conversions are derived by the reader of the record."""

    quantity: str
    value: float
    unit: str
    component: str | None = None
    condition: str | None = None
    utterance: int
    role: Literal["reading", "setting", "limit"] = "reading"
    unit_said: bool = True
    span: tuple[int, int] | None = None
    limit: LimitRow | None = None


class StepRow(_Model):
    """Work in the order in which it was done."""

    text: str
    utterance: int


class OpenItemRow(_Model):
    """What is still to be done or was left undone; ``utterance`` is where it was said or noticed."""

    text: str
    utterance: int


class CautionRow(_Model):
    """A safety warning as spoken."""

    text: str
    utterance: int


class LookRow(_Model):
    """Something a person should look at, and why."""

    kind: str
    reason: str
    utterance: int
    span: tuple[int, int] | None = None


class GapRow(_Model):
    """A stretch without sound."""

    start: float
    end: float
    reason: str


class Record(_Model):
    """One narrated job."""

    contract: Literal[1] = 1
    rules: str = Field(description="Version of the rules and models that derived this record.")
    vehicle: VehicleRow
    utterances: list[UtteranceRow]
    hypotheses: list[HypothesisRow]
    tests: list[TestRow]
    corrections: list[CorrectionRow]
    verifications: list[VerificationRow]
    fasteners: list[FastenerRow]
    parts: list[PartRow]
    measurements: list[MeasurementRow]
    open_items: list[OpenItemRow]
    steps: list[StepRow] = Field(default_factory=list)
    cautions: list[CautionRow] = Field(default_factory=list)
    looks: list[LookRow] = Field(default_factory=list)
    gaps: list[GapRow] = Field(default_factory=list)
