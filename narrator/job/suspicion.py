"""What one line puts under suspicion: which of the things it names, or words that name no known thing."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence

from narrator.job.alleged import alleged
from narrator.job.line import Line
from narrator.job.naming import SAME, likeness
from narrator.job.suspect_words import suspect_words
from narrator.job.unlisted import RULE, mediums, phrase
from narrator.paths import GRAMMARS
from narrator.values import Component, Cue, Material

_W = suspect_words()
_ARTICLES = _W["names.articles"]
_SURE: float = tomllib.loads((GRAMMARS / "meaning.toml").read_text(encoding="utf-8"))["suspected"]["sure"]
_SAID_OF = 2
"""A belief this many words behind a thing is said of it: *the pulley's my first guess*."""

_NOT_FAR = 3
"""So many words before a thing a *not* denies it."""

Thing = Component | Material


def explains(cue: Cue) -> bool:
    """Whether a cue says that something is explained (*that's why*), not that something is the cause."""
    return cue.text.endswith(("why", "where", "how", "what")) or "explain" in cue.text


def suspected(line: Line) -> Sequence[Thing]:
    """What a line puts under suspicion: after its hedge where it has one, and what is joined to that by *or*.

    Places, reasons, what is asked about, and things named in what the suspicion would explain, are left out.
    """
    every: list[Component] = sorted((*line.components, *mediums(line)), key=lambda c: c.at)
    named = [
        c for c in every if not (_asked(line, c) or _denied(line, c) or _lacking(line, c) or _says(line, c))
    ]
    if alike := all_alike(line, named) or _supposed_each(line, named):
        return alike
    chosen = _own(line, every, named)
    return [*(c for c in alleged(line) if c not in chosen), *chosen]


def _supposed_each(line: Line, named: Sequence[Component]) -> list[Component]:
    """*If it's the motor it'll be warm, if it's the valve block it won't*: each of two or more."""
    ends = [c.at[1] for c in line.cues("hedge.question") if line.tokens[c.at[0]] == "if"]
    found = [c for c in named if any(c.at[0] in (end, end + 1) for end in ends)]
    return found if len(found) > 1 else []


def _own(line: Line, every: Sequence[Component], named: list[Component]) -> Sequence[Thing]:
    """What the speaker of a line suspects himself, of the things that may be suspected."""
    found = _without_matter(line, _without_reasons(line, _after_hedge(line, named)))
    found = _without_supposed(line, found)
    if examples := [c for c in found if line.word_before(c) == "like"]:
        found = [c for c in found if c.at[0] >= examples[0].at[0]]
    main = [c for c in found if not is_place(line, c) or _held_inside(line, c)]
    main = [c for c in found if c in main or (main and _ails(line, c))]
    plain = [c for c in main if c.name not in _W["names.vague"]]
    nowhere = _W["join.somewhere"].isdisjoint(line.tokens)
    chosen: list[Thing] = []
    for component in plain or main or (_places(line, found) if nowhere else []):
        if chosen and not _joined(line, chosen[-1], component, plain):
            continue
        if not any(likeness(component.name, c.name) >= SAME for c in chosen):
            chosen.append(component)
    placed = not chosen or (chosen[0] not in main and not _is_sure(line, chosen[0]))
    if placed and (other := unlisted(line)):
        return [] if other.name in _W["names.stretches"] else [other]
    if not chosen and (sure := [c for c in found if _is_sure(line, c)]):
        return sure[:1]  # *a little something from the impeller bearing*
    if not chosen and line.materials and not every:
        chosen.append(line.materials[-1])
    return [*chosen, *_offered(line, chosen)]


def _offered(line: Line, chosen: Sequence[Thing]) -> list[Component]:
    """*Could be clutch drag or could be the box*: what no component names, offered beside one that is."""
    starts = [c.at[1] for c in line.cues("hedge.modal") if line.tokens[c.at[0] - 1 : c.at[0]] == ("or",)]
    found = [phrase(line, i) for i in starts if chosen]
    return [c for c in found if c is not None and c.rule == RULE and c not in chosen]


def _is_sure(line: Line, component: Thing) -> bool:
    """Whether the network is sure that a line which suspects something says it of this."""
    return (line.meant(component) or 0.0) >= _SURE


def all_alike(line: Line, named: Sequence[Component] | None = None) -> list[Component]:
    """*Low coolant, but a stuck thermostat would look the same, so both go on the list*: all of them."""
    words, after = (*line.tokens, "$"), _W["join.alike_after"]
    end = max(
        (i for i, word in enumerate(line.tokens) if word in _W["join.alike"] and words[i + 1] in after),
        default=0,
    )
    if named is None:
        named = sorted((*line.components, *mediums(line)), key=lambda c: c.at)
    found = [c for c in named if c.at[1] <= end and not line.is_place(c)]
    return found if len(found) > 1 else []


def is_place(line: Line, component: Thing) -> bool:
    """Whether a thing is only a place in a suspicion; *points to the relay* tells of no place."""
    if line.word_before(component) in ("to", "on", "at", "about") and _thought_of(line, component):
        return False
    return line.is_place(component) and line.word_before(component) != "to" and not _in_name(line, component)


def _thought_of(line: Line, component: Thing) -> bool:
    """*I wonder on that matrix again*: what one thinks of, and no place."""
    end = component.at[0]
    while end and line.tokens[end - 1] in _ARTICLES:
        end -= 1
    before = [word for word in line.tokens[max(0, end - 3) : end - 1] if word not in _W["join.beings"]]
    return not _W["join.thinks"].isdisjoint(before[-1:])


def _in_name(line: Line, component: Thing) -> bool:
    """*The tip over sensor*: what looks like a preposition belongs to the name."""
    article, word, particle = ("", "", "", *line.tokens[: component.at[0]])[-3:]
    apart = any(c.at[0] < component.at[0] <= c.at[1] + 1 for c in line.components if c is not component)
    known = word in _W["names.stop"] or word in _W["names.vague"]
    return article in _ARTICLES and particle in _W["join.particles"] and not (apart or known)


def _places(line: Line, found: list[Component]) -> list[Component]:
    """Of things that are all places the first and those joined to it: *by the seal or by the gasket*."""
    if not found:
        return []
    before, first = line.word_before(found[0]), found[0]
    alike = [
        c for c in found[1:] if line.word_before(c) == before and "or" in line.tokens[first.at[1] : c.at[0]]
    ]
    return [first, *alike]


def _without_matter(line: Line, found: list[Component]) -> list[Component]:
    """*Now the step, it'll be the motor or its switch*: what comes before is the matter, and no suspect."""
    for start, end in _turns(line):
        before = [c for c in found if c.at[1] <= start]
        after = [c for c in found if c.at[0] >= end]
        hedged = any(c.at[0] < start and not c.name.endswith("question") for c in line.cues("hedge"))
        chosen = hedged or line.tokens[start - 1 : start] == ("or",) or "or" in line.tokens[:start]
        if before and after and not chosen:
            return after
    return found


def _turns(line: Line) -> list[tuple[int, int]]:
    """Where a line turns from the matter to what may be behind it: *it'll be the*, *you'd blame the*."""
    words, out = line.tokens, []
    for i in range(1, len(words) - 2):
        said = words[i : i + 2]
        if words[i] in _W["join.pronouns"]:
            ahead = not _W["join.future"].isdisjoint(said) and "be" in words[i + 1 : i + 4]
            names = _is_named(words, i + 1) or _is_named(words, i)
            if ahead or names:
                out.append((i, i + 2))
        elif words[i] in _W["join.persons"] and not _W["join.blames"].isdisjoint(words[i + 1 : i + 3]):
            out.append((i, i + 2))
    return out


def _is_named(words: Sequence[str], i: int) -> bool:
    """Whether at token ``i`` a being is followed by an article or *either*: *it's a wire*."""
    being = words[i] in _W["join.beings"] or words[i].endswith("'s")
    return being and words[i + 1] in ("a", "an", "the", "either", "its", "his", "her")


def _held_inside(line: Line, component: Component) -> bool:
    """*I think it is inside the module or the plug on it*: a hedged place, from which *or* goes on."""
    near = any(
        cue.at[1] <= component.at[0]
        and _W["join.inside"].issuperset(line.tokens[cue.at[1] : component.at[0]])
        for cue in line.cues("hedge")
    )
    return near and line.tokens[component.at[1] : component.at[1] + 1] == ("or",)


def _ails(line: Line, component: Component) -> bool:
    """*Or slop in the diff*: a fault said to be in a thing, offered with others."""
    end = component.at[0]
    while end and line.tokens[end - 1] in _ARTICLES:
        end -= 1
    fault, place = (*line.tokens[max(0, end - 2) : end], "", "")[:2]
    offered = not _W["join.choices"].isdisjoint(line.tokens)
    return offered and fault in _W["fault.kinds"] and place in _W["fault.places"]


def _without_supposed(line: Line, found: list[Component]) -> list[Component]:
    """*If rust passes the strainer, it sits in the float needle*: what is supposed first is no suspect."""
    for cue in line.cues("unsure.if"):
        end = next((b for b in sorted(line.breaks) if b >= cue.at[1]), None)
        after = [c for c in found if end is not None and c.at[0] >= end]
        if line.tokens[cue.at[0]] == "if" and after:
            return [c for c in found if c.at[0] < cue.at[0] or c in after]
    return found


def _asked(line: Line, component: Component) -> bool:
    """*What makes a pedal pulse*, *what could hold the shoes out*: that is no suspect."""
    for i in range(component.at[0]):
        following = line.tokens[i + 1 : i + 3]
        if line.tokens[i] != "what" or not following or following[0] in _W["join.offers"]:
            continue
        end = next((b for b in sorted(line.breaks) if b > i + 1), len(line.tokens))
        nearest = next((c for c in line.components if c.at[0] > i), None)
        verb = not _W["join.affects"].isdisjoint(line.tokens[i + 1 : i + 4])
        if verb and component.at[0] < end and (nearest is component or end < len(line.tokens)):
            return True
    return False


def _denied(line: Line, component: Component) -> bool:
    """*It is not reaching the brushes*: what comes right after a *not*, in the same clause."""
    low = max([b for b in line.breaks if b <= component.at[0]] + [component.at[0] - _NOT_FAR, 0])
    before = line.tokens[low : component.at[0]]
    last = max((i for i, word in enumerate(before) if word in _W["join.parts"]), default=-1)
    return not _W["join.denials"].isdisjoint(before[last + 1 :])


def _says(line: Line, component: Component) -> bool:
    """*Elevated head pressure points me to the condenser*: what seems the end of a name is the verb."""
    start, end = component.at
    pointing = end - start > 1 and line.tokens[end - 1] in _W["join.points"]
    return pointing and not _W["join.points_at"].isdisjoint(line.tokens[end : end + 1])


def _lacking(line: Line, component: Component) -> bool:
    """*No brakes could be her controller*: what is missing is the symptom."""
    return line.tokens[component.at[0] - 1 : component.at[0]] == ("no",)


def _is_equated(line: Line, end: int) -> bool:
    """*The wet mat could be the heater core*: the hedge up to token ``end`` says what a thing comes from."""
    return line.tokens[end - 1] == "be" and line.tokens[end : end + 1] in (("the",), ("a",), ("an",))


def _without_reasons(line: Line, found: list[Component]) -> list[Component]:
    """*The sensor because the lever was bent*: what comes after a *because* is no suspect."""
    reasons = [i for i, word in enumerate(line.tokens) if word in _W["join.reasons"]]
    kept = [c for c in found if not any(i < c.at[0] for i in reasons)]
    return kept or found


def _after_hedge(line: Line, found: list[Component]) -> list[Component]:
    """Components from the first hedge on, or the one that the hedge is said of (*the pulley's my guess*)."""
    if "either" in line.tokens and (last := [c for c in found if c.at[0] > line.tokens.index("either")]):
        return last
    reasons = [i for i, word in enumerate(line.tokens) if word in _W["join.reasons"]]
    hedges = [c.at for c in line.cues("hedge") if not any(i < c.at[0] for i in reasons)]
    if not hedges or not found:
        return found
    first = min(start for start, _ in hedges)
    leads = any(c.at[0] - 2 <= end <= c.at[0] for _, end in hedges for c in found)
    equated = leads and any(_is_equated(line, end) for _, end in hedges)
    subject = [
        c
        for c in found
        if _is_subject(line, c, first)
        and not (leads and (equated or any(c.at[1] <= b <= first for b in line.breaks)))
    ]
    subject = _with_choices(line, found, subject)
    if line.tokens[first] in _W["join.persons"] and any(c.at[0] >= first for c in found):
        subject = [c for c in subject if c.at[1] < first]  # *for the fuse i'd say the relay*
    after = subject + [c for c in found if c.at[0] >= first]
    return after if after and not all(line.is_place(c) and not _thought_of(line, c) for c in after) else found


def _with_choices(line: Line, found: list[Component], subject: list[Component]) -> list[Component]:
    """*Seized caliper or a collapsed hose i'd say*: what stands before the last one, joined to it by *or*."""
    joined = list(subject)
    for one in reversed([c for c in found if joined and c.at[1] <= joined[0].at[0]]):
        between = [
            w for w in line.tokens[one.at[1] : joined[0].at[0]] if w not in _ARTICLES | _W["join.states"]
        ]
        if (between[:1] == ["or"] and len(between) < _NOT_FAR) or (
            not between and len(joined) > len(subject)
        ):
            joined.insert(0, one)
        else:
            break
    return joined


def _is_subject(line: Line, component: Component, hedge: int) -> bool:
    """Whether the hedge at token ``hedge`` is said of a component (*the plug in the tank might be*)."""
    end = component.at[1]
    for other in line.components:
        if end < other.at[0] <= end + 2 and line.is_place(other) and other.at[1] <= hedge:
            end = other.at[1]
    between = line.tokens[end:hedge]
    near = 0 <= hedge - end <= _SAID_OF
    return near and _W["join.parts"].isdisjoint(between) and not line.is_place(component)


def _joined(line: Line, one: Thing, other: Thing, every: Sequence[Component]) -> bool:
    """Whether two things of a line are suspected alike: *or* or another hedge between them, or a list."""
    between = line.tokens[one.at[1] : other.at[0]]
    hedges = [c.at[0] for c in line.cues("hedge")]
    topic = not any(at < one.at[0] for at in hedges)
    if not _W["join.plain"].isdisjoint(between):
        return True
    if not topic and not _W["join.words"].isdisjoint(between):
        return True
    within = [c for c in line.cues("hedge") if one.at[1] <= c.at[0] < other.at[0]]
    if not topic and any(c.name != "hedge.belief" or c.at[0] - one.at[1] > _SAID_OF for c in within):
        return True
    plain = [w for w in _without_places(line, one, other) if w not in _W["join.states"]]
    if plain == ["and"]:
        return True
    if not plain and line.tokens[other.at[1] : other.at[1] + 1] == ("or",):
        return True  # *blend motor, heater valve or an airlock*
    return not plain and any(_closes(line, c) for c in every if c.at[0] >= other.at[0])


def _without_places(line: Line, one: Thing, other: Thing) -> list[str]:
    """The words between two things without articles and places: *the valve behind the pump, and the seal*."""
    places = [c.at for c in line.components if one.at[1] < c.at[0] < other.at[0] and line.is_place(c)]
    kept = list(range(one.at[1], other.at[0]))
    for start, end in places:
        first = start - 1
        while first > one.at[1] and line.tokens[first] in _ARTICLES:
            first -= 1
        kept = [i for i in kept if not first <= i < end]
    return [line.tokens[i] for i in kept if line.tokens[i] not in _ARTICLES]


def _closes(line: Line, component: Component) -> bool:
    """Whether a thing ends a list: *the brushes, or the field circuit*."""
    i = component.at[0] - 1
    while i >= 0 and (line.tokens[i] in _ARTICLES or line.tokens[i] in _W["join.states"]):
        i -= 1
    return i >= 0 and line.tokens[i] in ("or", "and")


def unlisted(line: Line) -> Component | None:
    """A suspect that no component names: *it is an air pocket because ...* gives *air pocket*."""
    starts = {c.at[1] for c in line.cues("hedge")}
    for i, word in enumerate(line.tokens):
        led = not starts.isdisjoint(range(i - 2, i + 2)) or (i and line.tokens[i - 1] in _W["join.leads"])
        found = phrase(line, i) if led and word in _ARTICLES else None
        if found and not (found in line.components and line.is_place(found)):
            return found
    return None
