"""What one line puts under suspicion: which of the things it names, or words that name no known thing."""

from __future__ import annotations

from narrator.job.line import Line
from narrator.job.naming import likeness
from narrator.values import Component, Cue, Material

SAME = 0.7
"""Likeness from which two names mean one suspect."""
_STOP = frozenset(
    "is are was were be been because cause so but and or that which when"
    " if it 's he she they we i you to for with"
    " on"
    " these those they them this that's it's"
    " in at from of then now there somewhere after before who has have had does did not".split()
)
_VAGUE = frozenset("bit part piece thing stuff unit one end side area joint problem fault".split())
"""Names of anything: no suspect of its own where the line names something else."""
_SAID_OF = 2
"""A belief this many words behind a thing is said of it: *the pulley's my first guess*."""
_JOINS = frozenset("or either maybe perhaps possibly".split())
"""Between two suspects of one line: *the relay or maybe its socket*."""
_LEADS = frozenset("is 's it's be was or maybe".split())
"""Before the article of a suspect that no component names: *or it is an air pocket*."""
_ARTICLE = frozenset("a an the some".split())


def explains(cue: Cue) -> bool:
    """Whether a cue says that something is explained (*that's why*), not that something is the cause."""
    return cue.text.endswith(("why", "where", "how", "what")) or "explain" in cue.text


def suspected(line: Line) -> list[Component | Material]:
    """What a line puts under suspicion: after its hedge where it has one, and what is joined to that by *or*.

    Places, and things named in what the suspicion would explain, are left out.
    """
    found = _after_hedge(line, list(line.components))
    if examples := [c for c in found if line.word_before(c) == "like"]:
        found = [c for c in found if c.at[0] >= examples[0].at[0]]
    main = [c for c in found if not line.is_place(c)]
    plain = [c for c in main if c.name not in _VAGUE] or [c for c in found if main and c.name not in _VAGUE]
    chosen: list[Component | Material] = []
    for component in plain or main or found[:1]:
        if chosen and not _joined(line, chosen[-1], component):
            continue
        if not any(likeness(component.name, c.name) >= SAME for c in chosen):
            chosen.append(component)
    if not chosen and line.materials:
        chosen.append(line.materials[-1])
    return chosen


def _after_hedge(line: Line, found: list[Component]) -> list[Component]:
    """Components from the first hedge on, or the one that the hedge is said of (*the pulley's my guess*)."""
    hedges = [c.at for c in line.cues("hedge")]
    if not hedges or not found:
        return found
    first = min(start for start, _ in hedges)
    subject = [c for c in found if 0 <= first - c.at[1] <= _SAID_OF and not line.is_place(c)]
    after = subject + [c for c in found if c.at[0] >= first]
    return after if after and not all(line.is_place(c) for c in after) else found


def _joined(line: Line, one: Component | Material, other: Component | Material) -> bool:
    """Whether two things of a line are suspected alike: *or* or another hedge between them, or a list."""
    between = line.tokens[one.at[1] : other.at[0]]
    if not _JOINS.isdisjoint(between):
        return True
    hedges = [c for c in line.cues("hedge") if one.at[1] <= c.at[0] < other.at[0]]
    if any(c.name != "hedge.belief" or c.at[0] - one.at[1] > _SAID_OF for c in hedges):
        return True
    return len([w for w in between if w not in _ARTICLE]) <= 1 and set(between) <= _ARTICLE | {"and"}


def unlisted(line: Line) -> str | None:
    """A suspect that no component names: *it is an air pocket because ...* gives *air pocket*."""
    starts = {c.at[1] for c in line.cues("hedge")}
    tokens = line.tokens
    for i in range(len(tokens)):
        if tokens[i] in _ARTICLE and (
            not starts.isdisjoint(range(i - 2, i + 2)) or (i and tokens[i - 1] in _LEADS)
        ):
            name: list[str] = []
            for word in tokens[i + 1 : i + 4]:
                if word in _STOP:
                    break
                name.append(word)
            if name:
                return " ".join(name)
    return None
