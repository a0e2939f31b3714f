"""Signals in what was understood of single lines: repairs, unknown words, supplied units, doubtful acts."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from narrator.language.inflection import singular
from narrator.language.numberwords import is_number
from narrator.language.repair import repairer
from narrator.language.slips import UNKNOWN
from narrator.language.tokens import split_words
from narrator.values import Act, Fastener, Look, Measurement, Size, TroubleCode, Understood
from narrator.wording import SIGNS

Say = Callable[..., Look]

ACT_WORDS: dict[str, str] = {
    "concern": "the customer's concern", "observation": "something noticed", "hypothesis": "a suspicion",
    "test": "a test", "result": "a result", "ruled_out": "a suspect cleared", "confirmed": "a cause settled",
    "step": "work done", "part": "a part", "plan": "what comes next",
    "verification": "a check after the repair", "caution": "a warning", "aside": "talk beside the job",
}  # fmt: skip
_SMALL = frozenset({"a", "an", "and", "one", "half", "quarter", "point"})
"""Words that count too seldom to mark a number when nothing was made of them."""
_WEIGHTY: frozenset[Act] = frozenset({"ruled_out", "confirmed", "verification", "aside"})
_AT_ODDS: tuple[tuple[Act, Act], ...] = (
    ("confirmed", "ruled_out"), ("hypothesis", "confirmed"), ("plan", "verification"),
)  # fmt: skip


def meant_looks(understood: Sequence[Understood], limits: dict[str, float], say: Say) -> Iterator[Look]:
    """Findings of every line, in order."""
    for one in understood:
        ident = one.utterance.id
        for repair in one.repairs:
            yield say("repair", ident, repair.span, heard=repair.heard, meant=repair.meant)
        yield from _unknown(one, say)
        yield from _entities(one, say)
        yield from _bare(one, say)
        yield from _acts(one, limits, say)


def _unknown(one: Understood, say: Say) -> Iterator[Look]:
    """Words that are neither of the trade nor common English, outside of names, numbers and repairs.

    Asides do not reach the sheet, and a capital inside a sentence is somebody's name.
    """
    if one.acts == ("aside",):
        return
    known = repairer().guesser
    notes = split_words(one.utterance.text)
    taken = [e.span for e in one.entities if e.type in ("vehicle", "vin", "part_number", "dtc", "odometer")]
    taken += [repair.span for repair in one.repairs]
    for word, span in zip(notes.words, notes.source, strict=True):
        inside = any(start < span[1] and span[0] < end for start, end in taken)
        name = span[0] > 0 and one.utterance.text[span[0]].isupper()
        if not (inside or name) and known.state(word) == UNKNOWN and known.state(singular(word)) == UNKNOWN:
            yield say("unknown", one.utterance.id, span, word=word)


def _entities(one: Understood, say: Say) -> Iterator[Look]:
    ident = one.utterance.id
    for entity in one.entities:
        if isinstance(entity, Measurement) and not entity.unit_said and entity.unit:
            yield say(
                "unit",
                ident,
                entity.span,
                value=f"{entity.value:g}",
                unit=SIGNS.get(entity.unit, entity.unit),
            )
        elif isinstance(entity, TroubleCode) and entity.inferred:
            yield say("code", ident, entity.span, code=entity.code)
        elif isinstance(entity, Fastener) and entity.kind in ("bolt", "nut") and not _usual(entity.size):
            value = f"{entity.size.value:g}" if entity.size else ""
            yield say("size", ident, entity.span, value=value, kind=entity.kind)


def _bare(one: Understood, say: Say) -> Iterator[Look]:
    """Numbers of two words and more (or of two digits) of which nothing was made."""
    notes = split_words(one.utterance.text)
    taken = [entity.span for entity in one.entities]
    run: list[int] = []
    for i, word in enumerate([*notes.words, ""]):
        free = i < len(notes.words) and not any(
            start < notes.source[i][1] and notes.source[i][0] < end for start, end in taken
        )
        if free and is_number(word) and word not in _SMALL:
            run.append(i)
            continue
        said = " ".join(notes.words[j] for j in run)
        if len(run) > 1 or (said.isdigit() and len(said) > 1):
            span = (notes.source[run[0]][0], notes.source[run[-1]][1])
            yield say("bare", one.utterance.id, span, number=said)
        run = []


def _usual(size: Size | None) -> bool:
    """Whether spanners of that size are common (common practice, no source: 4 to 36 mm whole, and 5.5)."""
    if size is None or size.unit != "mm":
        return True
    head = size.value
    return head == 5.5 or (head == int(head) and 4 <= head <= 36)


def _acts(one: Understood, limits: dict[str, float], say: Say) -> Iterator[Look]:
    """Acts that do not go together, and acts the model only just decided for."""
    ident = one.utterance.id
    for first, second in _AT_ODDS:
        if first in one.acts and second in one.acts:
            yield say("both", ident, None, one=ACT_WORDS[first], other=ACT_WORDS[second])
            return
    scores = {act: float(why[6:]) for act, why in one.act_rules.items() if why.startswith("model ")}
    best = max(scores.values(), default=1.0)
    doubtful = [
        (score, act)
        for act, score in scores.items()
        if (act in _WEIGHTY and score < limits["weak"]) or best < limits["doubt"]
    ]
    if doubtful:
        yield say("doubt", ident, None, act=ACT_WORDS[min(doubtful)[1]])
