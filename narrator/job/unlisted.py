"""Things that no component names: *the canister*, *an air pocket*, *short of oil*, made into components.

Such a name is taken from the words after an article or a cue, up to the next verb, preposition or the like;
what runs through a machine (*air*, *fuel*) counts where the words before it say that it is itself meant.
"""

from __future__ import annotations

from narrator.job.line import Line
from narrator.job.suspect_words import suspect_words
from narrator.values import Component

_W = suspect_words()
_LONGEST = 3
RULE = "suspect.unlisted"
_IS = (("is",), ("'s",), ("was",))
_EARLY = 2
"""A medium named this early is the subject: *compression's spot on*, *so the air is out of it*."""


def make(line: Line, start: int, end: int) -> Component:
    """A component of the tokens ``start`` to ``end`` of a line."""
    name = " ".join(line.tokens[start:end])
    return Component(span=(0, 0), at=(start, end), rule=RULE, name=name, head=line.tokens[end - 1])


def phrase(line: Line, i: int, article: bool = True) -> Component | None:
    """The unlisted name that begins at token ``i`` after an article, or None.

    ``article``: an article has to stand there. Names of anything (*the problem*) give None, a component that
    begins there itself.
    """
    tokens = line.tokens
    start = i
    while start < len(tokens) and tokens[start] in _W["names.articles"]:
        start += 1
    if article and start == i:
        return None
    if start + 1 < len(tokens) and tokens[start] in _W["names.partitive"] and tokens[start + 1] == "of":
        start += 2
    things = {c.at[0]: c for c in line.components}
    end = start
    while end < len(tokens) and end - start < _LONGEST:
        if end in things:
            return things[end]
        if tokens[end] in _W["names.stop"] or (end > start and end in line.breaks):
            break
        end += 1
    while end - start > 1 and tokens[start] in _W["join.states"]:
        start += 1  # *a crook earth*
    words = set(tokens[start:end])
    if not words or words <= _W["names.vague"] or tokens[end - 1] in _W["names.vague"]:
        return None
    return make(line, start, end)


def mediums(line: Line) -> list[Component]:
    """What runs through the machine and is itself suspected: *short of oil*, *could be air in the line*."""
    found = []
    hedged = {c.at[1] for c in line.cues("hedge.modal")}
    hedged |= {c.at[1] + 1 for c in line.cues("hedge.belief") if line.tokens[c.at[1] :][:1] in _IS}
    hedged |= {c.at[1] + 2 for c in line.cues("hedge.adverb") if line.tokens[c.at[1] + 1 :][:1] in _IS}
    hedged |= {i + 1 for i, word in enumerate(line.tokens) if word in _W["join.choices"]}
    hedged |= {i - 1 for i, word in enumerate(line.tokens) if word == "or" and _is_named(line, i - 1)}
    begun = {c.at[0] for c in line.components}
    for i, word in enumerate(line.tokens):
        if word not in _W["medium.words"] or any(c.at[0] <= i < c.at[1] for c in line.components):
            continue
        if i + 1 in begun and i + 1 not in line.breaks:
            continue  # *damp windings*
        if (i in hedged or _only(line, i) in hedged or _is_short(line, i)) and not _passes(line, i):
            found.append(make(line, i, i + 1))
    return found


def _only(line: Line, i: int) -> int:
    """Where *only the rust* begins, whose last word is token ``i``; ``i`` itself without such words."""
    start = i
    while start and (
        line.tokens[start - 1] in _W["names.articles"] or line.tokens[start - 1] in _W["join.only"]
    ):
        start -= 1
    return start if line.tokens[start] in _W["join.only"] else i


def _is_named(line: Line, i: int) -> bool:
    """Whether token ``i`` is what something is said to be: *that is air or ...*, not *it sucks air*."""
    return i >= 1 and line.tokens[i - 1] in _W["join.beings"]


def _passes(line: Line, i: int) -> bool:
    """Whether the medium at token ``i`` is told to pass somewhere: *air getting in at the gasket*."""
    follows, further = (*line.tokens[i + 1 : i + 3], "", "")[:2]
    if follows in ("going", "coming"):
        return further in _W["medium.ways"]
    return follows in _W["medium.passing"]


def _is_short(line: Line, i: int) -> bool:
    """*Short of oil*, *low coolant*: too little of the medium at token ``i``, or bad."""
    before, further = line.tokens[max(0, i - 1) : i], line.tokens[max(0, i - 2) : i - 1] if i > 1 else ()
    if before == ("no",) and (further == ("or",) or line.tokens[i + 1 : i + 2] in ((), ("or",))):
        return True  # *air or no oil*
    if before == ("much",) and line.tokens[max(0, i - 3) : i - 1] == ("or", "too"):
        return True  # *or too much gas in it*
    if before and before[0] in _W["medium.links"]:
        return not _W["medium.short"].isdisjoint(further)
    after = line.tokens[i + 1 : i + 3]
    said_low = len(after) == 2 and after[0] in ("is", "'s", "was") and after[1] in _W["medium.state"]
    return said_low or not _W["medium.state"].isdisjoint(before)


def told_of(line: Line) -> Component | None:
    """The medium that a conclusion without a component is about: *so it's not short of oil*."""
    for i, word in enumerate(line.tokens):
        if word in _W["medium.words"] and (_is_short(line, i) or i <= _EARLY):
            return make(line, i, i + 1)
    return None


def subject(line: Line) -> Component | None:
    """What no component names and a line begins with: *the lining is only the victim*."""
    for i in range(min(_EARLY + 1, len(line.tokens))):
        if line.tokens[i] in _W["names.articles"]:
            return phrase(line, i)
    return None


def spoken_of(line: Line) -> Component | None:
    """What no component names and words that clear stand before: *no quarrel with the twine*."""
    for cue in line.cues("clear."):
        for i in (cue.at[1] - 1, cue.at[1]):
            if i < len(line.tokens) and line.tokens[i] in _W["names.articles"] and (found := phrase(line, i)):
                return found
    return None
