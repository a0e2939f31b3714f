"""What crosses a boundary between rooms: sound, words, utterances, what was understood of them.

Every class is frozen, holds plain data and imports nothing of ours, so that any room may import it.
Times are seconds from the start of the session unless a name says otherwise. A ``span`` is a pair of
character offsets into the utterance's text as heard; ``at`` is a pair of token offsets into
``Understood.tokens``. Both are half open.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, ClassVar, Literal, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SAMPLE_RATE = 16_000
"""Samples a second of all sound inside the program (mono)."""

Span = tuple[int, int]

Act = Literal[
    "concern", "observation", "hypothesis", "test", "result", "ruled_out", "confirmed",
    "step", "part", "plan", "verification", "caution", "aside",
]  # fmt: skip
"""What an utterance does. The order is the order in which a record lists them."""

ACTS: tuple[Act, ...] = (
    "concern", "observation", "hypothesis", "test", "result", "ruled_out", "confirmed",
    "step", "part", "plan", "verification", "caution", "aside",
)  # fmt: skip


# ---------------------------------------------------------------- sound and words


@dataclass(frozen=True, slots=True, eq=False)
class AudioChunk:
    """A block of mono sound: float32 samples in [-1, 1] at ``SAMPLE_RATE``; ``first`` numbers the first."""

    samples: NDArray[np.float32]
    first: int


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of the session without sound, and why."""

    start: float
    end: float
    reason: str


@dataclass(frozen=True, slots=True)
class Word:
    """One recognized word; ``conf`` in 0..1, or None where the engine gives none.

    ``other`` is what a second recognizer heard in place of this word or of the stretch of words that have the
    same, where both readings want a look; "" where it heard nothing. ``last`` tells that a remark ends behind
    it, though the sound goes on; it is not kept.
    """

    word: str
    start: float
    end: float
    conf: float | None = None
    other: str | None = None
    last: bool = False


@dataclass(frozen=True, slots=True)
class Partial:
    """What a recognizer believes so far of the utterance being spoken."""

    text: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Utterance:
    """One utterance as heard: a fact, never changed."""

    id: int
    start: float
    end: float
    text: str
    words: tuple[Word, ...] = ()
    speaker: str | None = None
    engine: str | None = None
    timing: Literal["aligned", "estimated"] | None = None
    """Whether the engine measured the words' times or they were spread over the voiced sound."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A person's replacement for the text of one utterance: a fact, kept beside what was heard."""

    utterance: int
    text: str
    who: str
    when: str
    reason: str = ""


# ---------------------------------------------------------------- what was understood


@dataclass(frozen=True, slots=True)
class Size:
    """A fastener's or tool's size; unit ``mm``, ``in`` or ``T`` (a Torx number)."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entity:
    """Base of everything an utterance names. ``rule`` is the id of the rule or model that found it."""

    type: ClassVar[str] = ""
    span: Span
    at: Span
    rule: str
    sure: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fastener(Entity):
    """A fastener or group of them; ``kind`` is singular (bolt, nut, screw, stud, clip, washer, ...).

    ``new`` marks a group said to be new, ``kind_said`` is false for a bare size (*both tens*);
    ``other`` keeps another reading of an ambiguous number.
    """

    type: ClassVar[str] = "fastener"
    kind: str
    count: int | None = None
    size: Size | None = None
    drive: str | None = None
    new: bool = False
    count_said: bool = True
    kind_said: bool = True
    other: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement(Entity):
    """A reading, setting or specification. ``role`` tells which; ``unit`` is a contract symbol.

    ``settled`` is false for bare degrees and torques while nothing had told their unit.
    """

    type: ClassVar[str] = "measurement"
    quantity: str
    value: float
    unit: str | None
    role: Literal["reading", "setting", "limit"] = "reading"
    unit_said: bool = True
    range: bool = False
    settled: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Component(Entity):
    """A part or system of the machine, canonical, lower case and singular; ``head`` is its last noun.

    ``owner``: a fastener is named after it (*the hub nut*), so that the fastener is meant, not the part.
    """

    type: ClassVar[str] = "component"
    name: str
    head: str = ""
    owner: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Position(Entity):
    """Where on the machine: *front left*, *nearside rear*."""

    type: ClassVar[str] = "position"
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool(Entity):
    """A tool named, not its size."""

    type: ClassVar[str] = "tool"
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Material(Entity):
    """Something used up or filled in: grease, coolant, sealant."""

    type: ClassVar[str] = "material"
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TroubleCode(Entity):
    """A diagnostic trouble code (SAE J2012 form: a letter, a digit 0-3, three hexadecimal digits)."""

    type: ClassVar[str] = "dtc"
    code: str
    inferred: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Vin(Entity):
    """A vehicle identification number, upper case. ``check`` tells whether its check digit agrees."""

    type: ClassVar[str] = "vin"
    vin: str
    check: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartNumber(Entity):
    """A part number, upper case, dashes as said."""

    type: ClassVar[str] = "part_number"
    number: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Price(Entity):
    """An amount of money as a decimal with two places and an ISO 4217 currency code (None if unsaid)."""

    type: ClassVar[str] = "price"
    amount: Decimal
    currency: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle(Entity):
    """Year, make and model as said; None where unsaid."""

    type: ClassVar[str] = "vehicle"
    year: int | None
    make: str | None
    model: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Odometer(Entity):
    """Distance on the clock; unit ``km`` or ``mi``."""

    type: ClassVar[str] = "odometer"
    value: int
    unit: str


ENTITY_TYPES: tuple[str, ...] = (
    "fastener", "measurement", "dtc", "vin", "component", "position", "part_number", "price",
    "tool", "material", "vehicle", "odometer",
)  # fmt: skip


class Cue(NamedTuple):
    """A phrase that tells how something is meant: hedge, negation, finding, motion, reference.

    ``name`` is dotted, general part first (``polarity.good``, ``motion.off``, ``repeat.same_again``).
    """

    name: str
    at: Span
    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class Repair:
    """A recognition slip read as what was meant; reversible, since ``heard`` and its span are kept."""

    span: Span
    heard: str
    meant: str
    rule: str
    score: float


@dataclass(frozen=True, slots=True)
class Look:
    """Something a person should look at, with the reason in words."""

    kind: str
    reason: str
    utterance: int
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Understood:
    """One utterance and all that the language room made of it.

    ``tokens`` are lower-case words after repair (contractions of *is/has* split off as ``'s``),
    ``breaks`` the token offsets before which the punctuation or wording starts a new clause.
    """

    utterance: Utterance
    clean: str
    tokens: tuple[str, ...]
    acts: tuple[Act, ...] = ()
    entities: tuple[Entity, ...] = ()
    cues: tuple[Cue, ...] = ()
    repairs: tuple[Repair, ...] = ()
    looks: tuple[Look, ...] = ()
    breaks: tuple[int, ...] = ()
    act_rules: dict[str, str] = field(default_factory=dict)
    meant: tuple[float, ...] = ()
    """For each token how likely the line says it of what it suspects or settles, if it does; may be empty."""
    degrees: Literal["Cel", "degF"] | None = None
    """The unit of bare degrees as the session tells it by this line, None while nothing told."""
    dollars: str | None = None
    """Whose dollars plain dollars are as the session tells it by this line, None while nothing told."""
    money: str | None = None
    """What amounts are in where the session never says a currency, None while nothing told."""
    distance: str | None = None
    """The unit of a distance on the clock said without one, as the session tells it by this line."""
    torque: str | None = None
    """The same of how tight something is."""
    moves: tuple[tuple[float, float], ...] = ()
    """For each token how likely it is of fasteners that come off, and of such that go on; may be empty."""
    unlisted: frozenset[Span] = frozenset()
    """Places of things that are named only by the way, which the record does not list."""
    likely: tuple[float, ...] = ()
    """How likely the model held each act, in the order of ``ACTS``, before the rules spoke; may be empty."""
