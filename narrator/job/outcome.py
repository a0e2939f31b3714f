"""The outcome model: does a line report good or bad news of the thing tested, and what does a whole test?

Two linear models, trained from our own results and narrations (models/outcomes/card.md): one weighs the
words of a line, the other weighs the lines of a test together with what the technician does right after it.
Positive means found good, negative found bad; both are log odds.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from narrator.job.expected_words import is_missed
from narrator.job.findings import against_limit, oversteps
from narrator.job.line import Line
from narrator.job.outcome_network import outcome_network
from narrator.job.outcome_words import outcome_words
from narrator.job.sides import opposite
from narrator.job.verdicts import declared, is_named, speaks_of_others, verdict_on
from narrator.paths import MODELS
from narrator.values import Act, Cue

FOLDER = MODELS / "outcomes"
_MASKS = {
    "component": "<component>",
    "measurement": "<measure>",
    "fastener": "<fastener>",
    "tool": "<tool>",
    "price": "<price>",
    "position": "<position>",
}
_DENIED = 2
"""So many words before a bad state, a negation turns it."""
_LAST = 4
"""So many words at the end of a line count once more: the point comes last."""
_IN: tuple[Act, ...] = ("ruled_out", "confirmed", "hypothesis", "observation", "verification", "step")
_NEXT: tuple[Act, ...] = (
    "ruled_out", "confirmed", "hypothesis", "step", "test", "observation", "part", "plan",
)  # fmt: skip
_NEXT_CUES = ("confirm", "clear.not", "clear.off", "clear.withdraw", "hedge", "suspect")
_TURNS: tuple[Act, ...] = ("ruled_out", "confirmed", "hypothesis")
_THROUGH: tuple[Act, ...] = ("aside", "result", "observation", "caution")
_PLAIN = 1.0
"""Log odds of bad news from which a line does not clear what it tells of, though it clears another thing."""
_LIMIT = 4.0
"""Log odds that being as it should, or not so, adds to a test."""
WEIGHED = 0.6
"""How much the linear model counts for a test."""
_READ = 0.8
"""How much the network counts."""
_CONCLUDED = 2.5
"""Log odds that a conclusion about the thing tested adds."""


@dataclass(frozen=True, slots=True)
class _Notions:
    negators: frozenset[str]
    reach: int
    stops: frozenset[str]
    cues: tuple[str, ...]


@lru_cache(maxsize=1)
def _notions() -> _Notions:
    table = outcome_words()
    negation = table["negation"]
    return _Notions(
        frozenset(negation["words"].split()),
        negation["reach"],
        frozenset(table["stop"]["words"].split()),
        tuple(table["cues"]["names"]),
    )


@dataclass(frozen=True, slots=True)
class Weights:
    """The trained weights: of a line's words, and for a test and a verification as a whole."""

    words: Mapping[str, float]
    test: Mapping[str, float]
    verification: Mapping[str, float]

    @staticmethod
    def margin(weights: Mapping[str, float], features: Mapping[str, float]) -> float:
        """Log odds of good, from features and their weights; what has no weight says nothing."""
        return weights.get("bias", 0.0) + sum(weights.get(f, 0.0) * x for f, x in features.items())


@lru_cache(maxsize=1)
def weights(folder: Path = FOLDER) -> Weights:
    """The weights as the training wrote them."""
    table = json.loads((folder / "weights.json").read_text(encoding="utf-8"))
    return Weights(table["words"], table["test"], table["verification"])


def masked(line: Line) -> list[str]:
    """The words of a line with what was recognized collapsed to its type."""
    starts = {e.at[0]: e for e in line.understood.entities if e.type in _MASKS}
    out: list[str] = []
    i = 0
    for start in sorted(starts):
        if start >= i:
            found = starts[start]
            out += (*line.tokens[i:start], _MASKS[found.type])
            i = max(found.at[1], start + 1)
    return [*out, *line.tokens[i:]]


def word_features(line: Line) -> dict[str, float]:
    """Features of one line: words, pairs, words in the reach of a negation, cues, a kept or broken limit."""
    return {
        f"{kind}={'_'.join(said) if isinstance(said, tuple) else said}": 1.0
        for kind, every in _word_keys(line).items()
        for said in every
    }


def _word_keys(line: Line) -> dict[str, set[str | tuple[str, str]]]:
    """The features of one line by their kind: words, or pairs of words."""
    words = masked(line)
    found: dict[str, set[str | tuple[str, str]]] = {
        "w": set(words),
        "l": set(words[-_LAST:]),
        "b": set(pairwise(("<s>", *words, "</s>"))),
    }
    notions = _notions()
    if not notions.negators.isdisjoint(words):
        found["n"] = set(_denied(words))
    if line.understood.cues:
        cues = (c for c in line.understood.cues if c.name.startswith(notions.cues))
        found["c"] = {_polarity(line, c) for c in cues}
    if compared := against_limit(line):
        found["limit"] = {f"{compared:+.0f}"}
    return found


def _denied(words: Iterable[str]) -> Iterator[str]:
    """The words in the reach of a negation."""
    notions, reach = _notions(), 0
    for word in words:
        negator = word in notions.negators
        if reach and not negator:
            yield word
        reach = notions.reach if negator else 0 if word in notions.stops else max(0, reach - 1)


def _polarity(line: Line, cue: Cue) -> str:
    """The name of a cue; a bad state that is denied is a good one (*it isn't cracked*, *there's no leak*)."""
    if cue.name != "polarity.bad":
        return cue.name
    notions = _notions()
    before = line.tokens[max(0, cue.at[0] - _DENIED) : cue.at[0]]
    last = max((n for n, word in enumerate(before) if word in notions.stops), default=-1)
    return "polarity.good" if notions.negators.intersection(before[last + 1 :]) else cue.name


def denies_fault(line: Line) -> bool:
    """Whether a line says of a thing by name that it is not in a bad state: *the radiator ain't plugged*."""
    return bool(line.components) and any(
        cue.name == "polarity.bad" and _polarity(line, cue) != cue.name for cue in line.understood.cues
    )


def tone(line: Line) -> float:
    """Log odds that a line reports good news, by its words alone; worked out once a line."""
    if line.tone is None:
        known, odds = _words_weights(), weights().words.get("bias", 0.0)
        for kind, every in _word_keys(line).items():
            odds += sum(filter(None, map(known[kind].get, every)))
        line.tone = odds
    return line.tone


@lru_cache(maxsize=1)
def _words_weights() -> Mapping[str, dict[str | tuple[str, str], float]]:
    """The weights of words by ``_word_keys``."""
    found: defaultdict[str, dict[str | tuple[str, str], float]] = defaultdict(dict)
    for name, weight in weights().words.items():
        kind, _, said = name.partition("=")
        before, _, word = said.partition("_")
        found[kind][(before, word) if kind == "b" else said] = weight
    return found


def context_features(lines: Sequence[Line], after: Sequence[Line]) -> dict[str, float]:
    """Features of a test or verification: the tone of its lines, and what the next lines make of it."""
    tones = [tone(line) for line in lines[-2:]]
    out = {"last": tones[-1], "sum": sum(tones)}
    done = frozenset().union(*[line.those(_IN) for line in lines])
    out |= {f"in:{act}": 1.0 for act in _IN if act in done}
    for cue in ("confirm", "clear.not", "clear.off"):
        out[f"in:{cue}"] = float(any(line.has(cue) for line in lines[-2:]))
    names = [c.name for line in lines for c in line.components]
    for n, line in enumerate(after[:2]):
        if n and not after[0].does(*_THROUGH):
            break
        if not (line.does("confirmed", "ruled_out") and opposite(lines, line)):
            out |= {f"{n}:{name}": x for name, x in _next_features(line, names).items()}
    return {name: x for name, x in out.items() if x}


def _next_features(line: Line, names: Sequence[str]) -> dict[str, float]:
    """What one of the next lines does, and whether it speaks of the thing tested (``names``)."""
    done = line.those(_NEXT)
    out = {str(act): 1.0 for act in _NEXT if act in done}
    same = any(is_named(c, names) for c in line.components)
    about = "same" if same else "other" if line.components else "none"
    out |= {f"{act}:{about}": 1.0 for act in _TURNS if act in done}
    if line.does("ruled_out", "confirmed", "result"):
        out["tone"] = tone(line) / 2
    out |= zip(_NEXT_CUES, line.which(_NEXT_CUES), strict=True)
    return out


def test_outcome(lines: Sequence[Line], after: Sequence[Line]) -> float:
    """Log odds that a test found its thing good; a conclusion about it by name outweighs the model."""
    compared = _compared(lines, after)
    if not compared and lines[-1].has("unproven") and not declared(lines[-1]):
        return 0.0  # *smooth enough by hand, and that doesn't prove a thing*
    odds = WEIGHED * Weights.margin(weights().test, context_features(lines, after))
    odds += meant(lines, after) + concluded(lines, after) + _LIMIT * compared
    return min(odds, -_PLAIN) if compared < 0 and oversteps(lines[-1], lines[:-1]) else odds


def read_together(tests: Iterable[tuple[Sequence[Line], Sequence[Line]]]) -> None:
    """Let the network read the lines of many tests, and those after each, at once."""
    if network := outcome_network():
        network.read(line for lines, after in tests for line in (*lines[-2:], *after[:2]))


def meant(lines: Sequence[Line], after: Sequence[Line]) -> float:
    """Log odds of good by what the network makes of the words; *if it stops it's the strap* tells nothing."""
    network = outcome_network()
    return 0.0 if network is None or lines[-1].has("conditional") else _READ * network.odds(lines, after)


def _compared(lines: Sequence[Line], after: Sequence[Line]) -> float:
    """What the last two lines, or the next, say of it: 1 as it should be, -1 not so, 0 nothing."""
    told = [(line, lines[:n]) for n, line in enumerate(lines)][-2:]
    found = [one for line, earlier in told if (one := against_limit(line, earlier)) is not None]
    if not found and after and not after[0].does("test", "result", "step"):
        if after[0].does("plan"):
            return -1.0 if is_missed(after[0]) else 0.0  # "that disc wants changing"
        return against_limit(after[0], lines) or 0.0
    return found[-1] if found else 0.0


def concluded(lines: Sequence[Line], after: Sequence[Line]) -> float:
    """What the lines of a test and the next ones conclude of the thing tested: good, bad, or nothing."""
    names = [c.name for line in lines for c in line.main_components()]
    if verdict := declared(lines[-1]):
        return _CONCLUDED * verdict
    if is_missed(lines[-1]):
        return -_CONCLUDED
    drawn = lines[-1].does("ruled_out") or "so" in lines[-1].tokens or tone(lines[-1]) > -_PLAIN
    if drawn and clears(lines[-1]):
        return _CONCLUDED
    for n, line in enumerate(after):
        same = any(is_named(c, names) for c in line.components)
        same = same and not opposite(lines, line)
        at_once = n == 0 and (not line.components or not names)
        if same or at_once:
            if verdict := verdict_on(line, names):
                return _CONCLUDED * verdict
            if is_missed(line) or (same and _found_in(line, names)):
                return -_CONCLUDED
            if clears(line) and not speaks_of_others(line, names):
                return _CONCLUDED
            if line.does("confirmed") and same:
                return -_CONCLUDED
        if line.does("test", "verification"):
            break
    return 0.0


def _found_in(line: Line, names: Sequence[str]) -> bool:
    """Whether the fault is found in one of these: *so the pump's fine, it's the strap*."""
    ends = {cue.at[1] for cue in line.cues("confirm.found")}
    return any(c.at[1] in ends and is_named(c, names) for c in line.components)


def clears(line: Line) -> bool:
    """Whether a line clears a suspect: by what it does, or by its words in another line."""
    said = line.has("clear.named", "clear.not_it") or (line.has("clear.off") and "so" in line.tokens)
    if line.has("consequence") and tone(line) < -_PLAIN:
        return False  # *it is twisted, but it is only the victim*
    if line.does("ruled_out"):
        return not line.does("confirmed") and (said or not line.has("confirm.found"))
    unsure = line.does("test", "confirmed") or (line.does("hypothesis") and line.has("hedge"))
    return said and line.does("result", "hypothesis") and not unsure


def verification_outcome(lines: Sequence[Line], after: Sequence[Line]) -> float:
    """Log odds that a check after the repair went well."""
    return Weights.margin(weights().verification, context_features(lines, after))
