"""Parts that were fitted: whether a test had spoken for them, and what those cost that were not needed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from narrator.job.naming import likeness
from narrator.job.record import CorrectionRow, HypothesisRow, PartRow
from narrator.training.course import Course

_SAME = 0.7


@dataclass(frozen=True, slots=True)
class Fitted:
    """One part that was fitted.

    ``suspect`` is the id of the suspect it replaces, None where it is no suspect's (screws, oil, work in
    passing). ``spoken_for``: a test had found it bad, or evidence for it had been recorded, before it was
    fitted. ``unneeded``: the suspect it replaced was cleared and is no consequence of the cause; ``perhaps``:
    it was cleared, but as a consequence, so that it may have needed replacing all the same.
    """

    name: str
    suspect: str | None
    utterance: int
    spoken_for: bool
    unneeded: bool
    perhaps: bool
    sure: bool
    amount: Decimal | None
    currency: str | None


def fitted(course: Course) -> list[Fitted]:
    """Parts said to be fitted, then things replaced for which no part was named."""
    record = course.record
    parts = [p for p in record.parts if p.state == "fitted"]
    done = [c for c in record.corrections if c.action == "replace" and c.utterances]
    found: list[Fitted] = []
    used: set[int] = set()
    for part in parts:
        ways = [(_meant(part, c), n) for n, c in enumerate(done) if n not in used]
        work = max(ways, default=(0.0, 0))
        at = part.utterances[-1] if part.utterances else None
        if work[0] >= _SAME:
            used.add(work[1])
            at = done[work[1]].utterances[0]
        if at is not None:
            found.append(_one(course, part.name, at, part))
    found += [_one(course, c.component, c.utterances[0], None) for n, c in enumerate(done) if n not in used]
    return sorted(found, key=lambda f: course.place(f.utterance))


def _meant(part: PartRow, work: CorrectionRow) -> float:
    """How well a part fits the work that put it in: said in one line, it is that; else by name."""
    together = not set(part.utterances).isdisjoint(work.utterances)
    return 1.0 if together else likeness(part.name, work.component)


def _one(course: Course, name: str, at: int, part: PartRow | None) -> Fitted:
    suspect = _suspect(course, name)
    cleared = suspect is not None and suspect.status == "ruled_out"
    follows = suspect is not None and bool(suspect.consequence_of)
    amount, currency = _price(part)
    return Fitted(
        name=name,
        suspect=suspect.id if suspect else None,
        utterance=at,
        spoken_for=_spoken_for(course, name, suspect, at),
        unneeded=cleared and not follows,
        perhaps=cleared and follows,
        sure=course.sure([at]),
        amount=amount,
        currency=currency,
    )


def _suspect(course: Course, name: str) -> HypothesisRow | None:
    ranked = [(likeness(name, h.component), -n, h) for n, h in enumerate(course.suspects)]
    best = max(ranked, key=lambda r: r[:2], default=None)
    return best[2] if best and best[0] >= _SAME else None


def _spoken_for(course: Course, name: str, suspect: HypothesisRow | None, at: int) -> bool:
    place = course.place(at)
    for test in course.tests:
        about = (suspect is not None and suspect.id in test.hypotheses) or (
            test.component is not None and likeness(name, test.component) >= _SAME
        )
        if about and test.outcome == "fail" and course.spoke(test) <= place:
            return True
    evidence = suspect.evidence if suspect else []
    return any(e.stance == "supports" and course.place(e.utterance) <= place for e in evidence)


def _price(part: PartRow | None) -> tuple[Decimal | None, str | None]:
    if part is None or part.price is None:
        return None, None
    try:
        return Decimal(part.price.amount), part.price.currency
    except InvalidOperation:
        return None, None
