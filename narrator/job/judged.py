"""What a line does to a thing that it names, by a trained model: clears it, settles it, or neither.

*Nah, the bearing's all good*, *the elbow is choking her*: the act model is often in two minds between a
result and a conclusion. What stands beside the words decides: whether the thing is an open suspect, what was
tested, what is said of it. The models are logistic regressions over ``NAMES`` (models/suspects/card.md,
trained by ``models.understanding.train_suspects``).
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from math import exp, log, log1p
from operator import mul

from narrator.job.conclusion import is_denied, settled_by
from narrator.job.fault import fault_of
from narrator.job.line import Line
from narrator.job.outcome import tone
from narrator.job.verdicts import verdicts
from narrator.paths import GRAMMARS, MODELS
from narrator.values import Act, Component

_ACTS: tuple[Act, ...] = (
    "ruled_out", "confirmed", "hypothesis", "result", "test", "observation", "plan", "part", "step",
    "verification", "aside", "concern",
)  # fmt: skip
_DONE: tuple[Act, ...] = ("ruled_out", "confirmed", "hypothesis", "result", "test")
_CUES = (
    "clear.named", "clear.not_it", "clear.off", "clear.withdraw", "taken_back", "confirm.found",
    "confirm.state", "settle", "found.cause", "consequence", "two_causes", "hedge", "hedge.question",
    "conditional", "negation", "unproven", "polarity.good", "polarity.bad", "suspect.back", "motion",
    "observe",
)  # fmt: skip
NAMES = (
    *(f"likely {act}" for act in _ACTS), *(f"does {act}" for act in _DONE), *(f"cue {cue}" for cue in _CUES),
    "tone", "called good", "called bad", "fault", "denied", "place", "meant", "meant most", "only", "first",
    "by rules", "words", "known", "open", "cleared", "confirmed", "fit", "since", "tested", "others open",
    "settled", "mended", "verified", "clears and open", "settles and open", "clears and good",
    "settles and bad", "clears and settled",
)  # fmt: skip
"""What the model looks at, in order."""
FOLDER = MODELS / "suspects"
THRESHOLDS: dict[str, float] = tomllib.loads((GRAMMARS / "meaning.toml").read_text(encoding="utf-8"))[
    "judged"
]
_FAR = 4.0
"""Log odds that count for no more."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How a named thing stands when a line is read; ``status`` is None where it is no suspect."""

    status: str | None = None
    fit: float = 0.0
    """How well its name fits the suspect."""
    since: int = 0
    """Lines since that was spoken of."""
    tested: bool = False
    others: int = 0
    """How many more suspects are open."""
    settled: bool = False
    """Whether a cause stands, and below whether work followed it, and a look at what that did."""
    mended: bool = False
    verified: bool = False


def _logit(share: float) -> float:
    odds = log((share + 1e-4) / (1 - share + 1e-4))
    return odds if -_FAR < odds < _FAR else _FAR if odds > 0 else -_FAR


def features(line: Line, thing: Component, standing: Standing) -> list[float]:
    """What the model looks at, in the order of ``NAMES``."""
    acts = [_logit(line.likely(act)) for act in _ACTS]
    said = {id(c): v for c, v in verdicts(line)}
    verdict = said.get(id(thing), 0.0)
    mood, meant = tone(line), line.meant(thing) or 0.0
    most = max((line.meant(c) or 0.0 for c in line.components), default=0.0)
    status = standing.status
    good, bad = max(0.0, mood), max(0.0, -mood)
    clears, settles = line.likely("ruled_out"), line.likely("confirmed")
    fault = float(fault_of(line, thing) is not None)
    is_open, done = float(status == "open"), line.those(_DONE)
    return [
        *acts,
        *[float(act in done) for act in _DONE],
        *line.which(_CUES),
        max(-_FAR, min(_FAR, mood)), float(verdict > 0), float(verdict < 0), fault,
        float(is_denied(line, thing)), float(line.is_place(thing)), meant, float(meant >= most),
        float(len(line.components) == 1), float(thing is line.components[0]),
        float(settled_by(line) is thing),
        log1p(len(line.tokens)), float(status is not None), is_open, float(status == "ruled_out"),
        float(status == "confirmed"), standing.fit, log1p(standing.since), float(standing.tested),
        min(4.0, standing.others), float(standing.settled), float(standing.mended), float(standing.verified),
        clears * is_open, settles * is_open, clears * min(2.0, good), settles * (min(2.0, bad) + fault),
        clears * float(status == "confirmed"),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Judgement:
    """How likely a line clears a thing that it names, and how likely it settles it as a cause."""

    clears: float
    settles: float


@lru_cache(maxsize=1)
def _weights() -> dict[str, tuple[list[float], float]]:
    """The weights of both models and their biases; none where the file is not there."""
    path = FOLDER / "judged.json"
    if not path.exists():
        return {}
    rows = json.loads(path.read_text(encoding="utf-8"))
    return {name: ([row[n] for n in NAMES], row["bias"]) for name, row in rows.items()}


def _share(model: tuple[list[float], float], row: list[float]) -> float:
    margin = model[1] + sum(map(mul, model[0], row))
    return 1 / (1 + exp(-max(-30.0, min(30.0, margin))))


def judge(line: Line, thing: Component, standing: Standing) -> Judgement | None:
    """The models' word on what a line does to a thing; None where nothing judged the line's acts."""
    models = _weights()
    if not models or not line.understood.likely:
        return None
    row = features(line, thing, standing)
    return Judgement(_share(models["clears"], row), _share(models["settles"], row))
