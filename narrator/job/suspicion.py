"""What one line puts under suspicion: which of the things it names, or words that name no known thing."""

from __future__ import annotations

from collections.abc import Sequence

from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.job.suspect_words import suspect_words
from narrator.job.unlisted import mediums, phrase
from narrator.values import Component, Cue, Material

SAME = 0.7
"""Likeness from which two names mean one suspect."""
_W = suspect_words()
_ARTICLES = _W["names.articles"]
_SAID_OF = 2
"""A belief this many words behind a thing is said of it: *the pulley's my first guess*."""

Thing = Component | Material


def explains(cue: Cue) -> bool:
    """Whether a cue says that something is explained (*that's why*), not that something is the cause."""
    return cue.text.endswith(("why", "where", "how", "what")) or "explain" in cue.text


def suspected(line: Line) -> Sequence[Thing]:
    """What a line puts under suspicion: after its hedge where it has one, and what is joined to that by *or*.

    Places, reasons, and things named in what the suspicion would explain, are left out.
    """
    named: list[Component] = sorted((*line.components, *mediums(line)), key=lambda c: c.at)
    found = _without_reasons(line, _after_hedge(line, named))
    if examples := [c for c in found if line.word_before(c) == "like"]:
        found = [c for c in found if c.at[0] >= examples[0].at[0]]
    main = [c for c in found if not line.is_place(c)]
    plain = [c for c in main if c.name not in _W["names.vague"]]
    chosen: list[Thing] = []
    for component in plain or main or found[:1]:
        if chosen and not _joined(line, chosen[-1], component):
            continue
        if not any(likeness(component.name, c.name) >= SAME for c in chosen):
            chosen.append(component)
    if (not chosen or line.is_place(chosen[0])) and (other := unlisted(line)):
        return [other]
    if not chosen and line.materials:
        chosen.append(line.materials[-1])
    return chosen


def _without_reasons(line: Line, found: list[Component]) -> list[Component]:
    """*The sensor because the lever was bent*: what comes after a *because* is no suspect."""
    reasons = [i for i, word in enumerate(line.tokens) if word in _W["join.reasons"]]
    kept = [c for c in found if not any(i < c.at[0] for i in reasons)]
    return kept or found


def _after_hedge(line: Line, found: list[Component]) -> list[Component]:
    """Components from the first hedge on, or the one that the hedge is said of (*the pulley's my guess*)."""
    hedges = [c.at for c in line.cues("hedge")]
    if not hedges or not found:
        return found
    first = min(start for start, _ in hedges)
    subject = [c for c in found if _is_subject(line, c, first)]
    after = subject + [c for c in found if c.at[0] >= first]
    return after if after and not all(line.is_place(c) for c in after) else found


def _is_subject(line: Line, component: Component, hedge: int) -> bool:
    """Whether the hedge at token ``hedge`` is said of a component right before it."""
    between = line.tokens[component.at[1] : hedge]
    near = 0 <= hedge - component.at[1] <= _SAID_OF
    return near and _W["join.parts"].isdisjoint(between) and not line.is_place(component)


def _joined(line: Line, one: Thing, other: Thing) -> bool:
    """Whether two things of a line are suspected alike: *or* or another hedge between them, or a list."""
    between = line.tokens[one.at[1] : other.at[0]]
    if not _W["join.words"].isdisjoint(between):
        return True
    hedges = [c for c in line.cues("hedge") if one.at[1] <= c.at[0] < other.at[0]]
    if any(c.name != "hedge.belief" or c.at[0] - one.at[1] > _SAID_OF for c in hedges):
        return True
    plain = [w for w in between if w not in _ARTICLES]
    return len(plain) <= 1 and set(plain) <= {"and"}


def unlisted(line: Line) -> Component | None:
    """A suspect that no component names: *it is an air pocket because ...* gives *air pocket*."""
    starts = {c.at[1] for c in line.cues("hedge")}
    for i, word in enumerate(line.tokens):
        if word in _ARTICLES and (
            not starts.isdisjoint(range(i - 2, i + 2)) or (i and line.tokens[i - 1] in _W["join.leads"])
        ):
            if found := phrase(line, i):
                return found
    return None
