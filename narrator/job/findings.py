"""What a result says of the thing tested: good, bad, or not settled by the words alone."""

from __future__ import annotations

from narrator.job.line import Line
from narrator.values import Measurement

_UP = ("under", "less", "below", "max", "maximum", "most", "exceed", "over limit")
_SCRAP = frozenset(
    "throw throws scrap scrapped bin binned replace change discard renew rubbish junk finished".split()
)
_DOWN = ("over", "least", "above", "more", "min", "minimum")


def against_limit(line: Line) -> float | None:
    """Compare a reading with a limit said in the same breath: +1 kept, -1 broken, None if not comparable."""
    measures = line.entities(Measurement)
    limits = [m for m in measures if m.role == "limit"]
    readings = [m for m in measures if m.role == "reading"]
    if not limits or not readings or limits[0].unit != readings[0].unit:
        return None
    value, words = readings[0].value, line.tokens[max(0, limits[0].at[0] - 3) : limits[0].at[0]]
    after = line.tokens[limits[-1].at[1] : limits[-1].at[1] + 5]
    if not _SCRAP.isdisjoint(after) and ("under" in words or "below" in words):
        return 1.0 if value >= limits[-1].value else -1.0  # "under seventeen you throw it"
    ends = sorted(m.value for m in limits if m.unit == limits[0].unit)
    if any(w in words for w in _UP):
        return 1.0 if value <= ends[-1] else -1.0
    if any(w in words for w in _DOWN):
        return 1.0 if value >= ends[0] else -1.0
    low, high = (ends[0], ends[-1]) if len(ends) > 1 else (ends[0] * 0.9, ends[0] * 1.1)
    return 1.0 if low <= value <= high else -1.0


def polarity(line: Line) -> float:
    """Positive: found good; negative: found bad; zero: the words do not tell.

    Later words weigh more (*tight at first but now it wobbles*); a compared limit outweighs words.
    """
    score, count = 0.0, max(1, len(line.tokens))
    for cue in line.cues("polarity."):
        place = 1.0 + cue.at[1] / count
        if cue.name == "polarity.good":
            score += place * (0.4 if cue.text in _WEAK else 1.0)
        elif cue.name == "polarity.bad":
            score -= place * (0.4 if cue.text in _WEAK else 1.0)
        elif cue.name == "polarity.change":
            score -= 0.3 * place
    compared = against_limit(line)
    return score + 3 * compared if compared is not None else score


_WEAK = frozenset("good fine ok okay no nope nothing right low flat soft black wet still".split())
