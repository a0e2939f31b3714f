"""What a conclusion is about: which of the things in a line is the cause, and which only suffered from it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from narrator.job.fault import fault_of
from narrator.job.line import Line
from narrator.job.outcome import tone
from narrator.job.suspect_words import suspect_words
from narrator.job.suspicion import explains
from narrator.paths import GRAMMARS
from narrator.values import Component, Cue, Fastener

FIXING = "suspect.fixing"
"""Rule of a fastener that a conclusion is about; it is not the component that it holds."""
_BYSTANDERS = frozenset("victim symptom messenger bystander passenger consequence casualty effect".split())

_CULPRITS = frozenset("problem fault culprit trouble cause reason villain offender one answer it".split())
_PRONOUNS = frozenset("one answer it".split())
_UNINVOLVED, _IT = ("nothing", "to", "do", "with"), frozenset("it that this any".split())
_NEVER = suspect_words()["join.denials"] | frozenset(("no", "nothing", "none", "without", "neither"))
_SPOTS = frozenset("past on at through around between".split())
"""Before a place that is the fault's own: *rust on the hub face*, but not *poured it in the radiator*."""
_HOLDING = frozenset("of on in inside".split())
_ONLY = frozenset("only just merely simply nothing".split())
_HOW_WARM = frozenset("cold hot warm cool".split())
"""What a thing may be without being broken: *slew motor's cold*."""
_UNSURE = frozenset("if unless till until whether say says said".split())
_UNSURE |= suspect_words()["join.words"] | suspect_words()["join.waits"]
_NEAR = 3
_CLAUSE = 5
_WHOLE = frozenset("it that all everything".split())
_MEANT = tomllib.loads((GRAMMARS / "meaning.toml").read_text(encoding="utf-8"))["conclusions"]
_BEING = frozenset("is are was were 's has had have been got".split())
_ARTICLES = suspect_words()["names.articles"]
_WHOSE = frozenset("my his her your our their its".split())
_ONE_OF, _THAT = frozenset("one thing bit fella lad chap".split()), frozenset("that what who which".split())


def settled_by(line: Line) -> Component | None:
    """The component that a conclusion is about.

    The rules' choice, but for another that the network takes for the one meant where it doubts theirs
    (thresholds: ``grammars/meaning.toml``).
    """
    if any("thought" in cue.text.split() for cue in line.cues("hedge.belief")):
        return named_as_cause(line)  # not what was only thought
    causes = [c for c in line.components if not is_explained(line, c) and not suffers(line, c)]
    found = _by_rules(line, causes)
    likeliest = max(causes, key=lambda c: line.meant(c) or 0.0, default=None)
    if likeliest is None or (line.meant(likeliest) or 0.0) < _MEANT["meant"]:
        return found
    return found if found and (line.meant(found) or 0.0) >= _MEANT["doubted"] else likeliest


def _by_rules(line: Line, named: Sequence[Component]) -> Component | None:
    """The component that rules take a conclusion to be about, of those that may be meant.

    It is what stands after *it's the*, else the first; left out are places, what
    an effect is told of (*that's what wet the shoe*) and what suffered (*it cooked the relay*).
    """
    for cue in line.cues("confirm"):
        if cue.text.endswith("<component>"):
            inside = [c for c in named if cue.at[0] <= c.at[0] < cue.at[1]]
            if inside and not line.is_place(inside[0]):
                return _fixed(line, inside[0])
    main = [c for c in named if not line.is_place(c)]
    at = [c for c in named if line.word_before(c) in _SPOTS]  # *sucking past that o ring*
    said = [c for c in named if _states(line, c)]  # *a wire in the display cable is broken*
    found = main or at or said
    owner = len(found) > 1 and (found[0].at[1] + 1, line.tokens[found[0].at[1]]) == (found[1].at[0], "'s")
    return _fixed(line, found[1 if owner else 0]) if found else None


def _fixed(line: Line, component: Component) -> Component:
    """The fastener of a component where that is named: *it's the disc bolts*."""
    for fastener in line.entities(Fastener):
        if fastener.at[0] == component.at[1] and (line.has("confirm", "settle") or tone(line) < 0):
            name = f"{component.name} {fastener.kind}"
            return replace(component, name=name, at=(component.at[0], fastener.at[1]), rule=FIXING)
    return component


def is_explained(line: Line, component: Component) -> bool:
    """Whether a component stands after *that's why* and the like, in the same sentence.

    Not so the subject of words of its own: *that's what is cooking her the elbow is solid with carbon*.
    What stands after *the one that* is explained as well: *that's the one that was walking the axle*.
    """
    found = line.cues("confirm.found")
    one = pairwise(line.tokens[: component.at[0]])
    follows = line.tokens[component.at[1] : component.at[1] + 1]
    if found and any(a in _ONE_OF and b in _THAT for a, b in one) and _BEING.isdisjoint(follows):
        return True
    for cue in found:
        if explains(cue) and component.at[0] >= cue.at[0]:
            if any(cue.at[1] <= c.at[0] < component.at[0] <= c.at[1] for c in found if not explains(c)):
                return False  # *that's what stops the door it's the roller*
            if any(cue.at[1] <= b <= component.at[0] for b in line.breaks):
                return False
            if cue.text.split()[-1] in _WHOLE:
                return False  # *that explains it the seal is gone*
            between = [w for w in line.tokens[cue.at[1] : component.at[0]] if w not in _ARTICLES | _WHOSE]
            return not between or not _states(line, component)
    return False


def _states(line: Line, component: Component) -> bool:
    """Whether something is said of a component right after it: *the hose is split*, *the reed broke*."""
    follows = line.tokens[component.at[1] : component.at[1] + 1]
    bad = any(
        component.at[1] == cue.at[0] or cue.at[1] == component.at[0] for cue in line.cues("polarity.bad")
    )
    verb = follows and component.at[1] not in line.breaks and follows[0] not in suspect_words()["names.stop"]
    return bad or not _BEING.isdisjoint(follows) or bool(verb)


def suffers(line: Line, component: Component) -> bool:
    """Whether a component is what something was done to: *ate the first pump*, *cooked the relay*.

    Not so after another object: *it's what is cooking her the elbow*.
    """
    return _is_done_to(line, component) or any(
        cue.at[0] < component.at[0] <= cue.at[1] + 1
        and not (component.at[0] == cue.at[1] + 1 and line.tokens[cue.at[1]] in _ARTICLES)
        for cue in line.cues("damage")
    )


def _is_done_to(line: Line, component: Component) -> bool:
    """*It's been tripping the air handler*, *that kept blowing the fuse*: the object of what went on."""
    start = component.at[0]
    while start and line.tokens[start - 1] in _ARTICLES:
        start -= 1
    who, been, doing = ("", "", "", *line.tokens[:start])[-3:]
    went_on = been in ("been", "kept", "keeps") and who in (*_BEING, *_THAT, "it", "and")
    return went_on and doing.endswith("ing") and start < component.at[0]


def holds(line: Line, component: Component) -> bool:
    """Whether a component holds the one named before it: *cracked on the pump*, not *a pair of cables*."""
    before = line.tokens[: component.at[0]]
    of = next((i for i in range(len(before) - 1, -1, -1) if before[i] == "of"), 0)
    amount = of and before[of - 1] in suspect_words()["names.partitive"]
    return not amount and (line.word_before(component) in _HOLDING or _held_by_name(before))


def _held_by_name(before: Sequence[str]) -> bool:
    """Whether a thing whose name begins in these words holds another: *the ring of the suction* tube."""
    for back in (2, 3):
        article = before[-back:][:1]
        if article and article[0] in _ARTICLES:
            named = suspect_words()["names.stop"].isdisjoint(before[len(before) - back + 1 :])
            return named and before[-back - 1 : -back] in (("of",), ("on",), ("in",), ("inside",))
    return False


def is_denied(line: Line, component: Component, after: int = 2) -> bool:
    """Whether a *not* stands right before or after a component: *the ring never leaked*, *not the ring*."""
    low = max([b for b in line.breaks if b <= component.at[0]] + [component.at[0] - _NEAR, 0])
    near = (*line.tokens[low : component.at[0]], *line.tokens[component.at[1] : component.at[1] + after])
    return not suspect_words()["join.denials"].isdisjoint(near)


def is_presented(line: Line, entity: Component) -> bool:
    """Whether words that settle stand right at a component: *the mount, that's the culprit*."""
    for cue in line.cues("confirm.found"):
        named_after = cue.at[0] <= entity.at[0] <= cue.at[1] + 1
        named_before = 0 <= cue.at[0] - entity.at[1] <= _NEAR and cue.text.split()[-1] in _CULPRITS
        if named_after or named_before:
            return True
    return False


def condemns(line: Line) -> bool:
    """*So the discs are scrap*, *pads needed*: it clears nothing, unless it clears another thing by name."""
    if line.has("clear.named", "clear.not_it"):
        return False
    return line.has("condemned.useless") or (line.has("condemned") and not line.has("negation"))


def is_put_off(line: Line, entity: Component) -> bool:
    """*The bracket is cracked and wants welding*, *that last cowl bolt*: no cause of the job."""
    fixing = any(f.at[0] == entity.at[1] for f in line.entities(Fastener))
    return fixing or not suspect_words()["later.times"].isdisjoint(line.tokens)


def is_refused(line: Line, entity: Component) -> bool:
    """Whether it is denied that a thing is the cause: *nobody can say it's the tyres*."""
    for cue in line.cues("confirm.found"):
        names = cue.at[0] < entity.at[0] < cue.at[1]
        if names or (cue.at[1] == entity.at[0] and cue.text.split()[-1] in _ARTICLES):
            low = max([b for b in line.breaks if b <= cue.at[0]] + [cue.at[0] - _CLAUSE, 0])
            before = line.tokens[low : cue.at[0] + 1]
            parts = [i for i, word in enumerate(before) if word in suspect_words()["join.parts"]]
            if not suspect_words()["join.refusals"].isdisjoint(before[parts[-1] if parts else 0 :]):
                return True  # not so *where nobody looks, so it's the boot*
    return False


def denies_cause(line: Line) -> bool:
    """*It was real, but it was not the reason*: denied is that it was the cause, not that it was all.

    So it is where a thing *had nothing to do with it*.
    """
    words = line.tokens
    if any(tuple(words[i : i + 4]) == _UNINVOLVED and words[i + 4] in _IT for i in range(len(words) - 4)):
        return True
    for i, word in enumerate(words[:-1]):
        if word in suspect_words()["join.denials"]:
            after = [w for w in words[i + 1 : i + 4] if w not in _ARTICLES]
            if after and after[0] in _CULPRITS - _PRONOUNS:
                return True
    return False


def named_as_cause(line: Line) -> Component | None:
    """The thing that a line calls the cause in so many words, no doubt before them: *so it's the strap*."""
    for cue in line.cues("confirm.found"):
        words = cue.text.split()
        if words[-1] != "<component>" or not _BEING.intersection(words[:-1]):
            continue
        sure = any(c.at[1] <= cue.at[0] and "got" in c.text.split() for c in line.cues("confirm.found"))
        hedged = any(c.at[0] <= cue.at[0] and not _turns(line, c, cue) for c in line.cues("hedge"))
        inside = [c for c in line.components if cue.at[0] < c.at[0] < cue.at[1]]
        if inside and (sure or not hedged):
            return inside[0]
    return None


def _turns(line: Line, hedge: Cue, cue: Cue) -> bool:
    """*I thought it was the pump but it's the relay*: what was believed lies behind, what is said stands."""
    between = range(hedge.at[1], cue.at[0] + 1)
    parted = any(i in line.breaks or line.tokens[i] == "but" for i in between)
    return "thought" in hedge.text.split() and parted


def blamed(line: Line) -> Component | None:
    """What is called the cause in a line that clears another: *it's the seal, the valve's off the hook*.

    Nothing may be doubted in such a line, offered, or put off (*it's not the pump, so it's the relay next*).
    """
    if line.has("hedge", "conditional", "question.or") or not _UNSURE.isdisjoint(line.tokens):
        return None
    inside = [
        c for cue in line.cues("settle.blamed") for c in line.components if cue.at[0] <= c.at[0] < cue.at[1]
    ]
    found = inside[0] if inside else named_as_cause(line)
    if found is None or found in cleared_by_name(line):
        return None
    return None if is_denied(line, found, after=_NEAR) and not _rather(line, found) else found


def _rather(line: Line, component: Component) -> bool:
    """*It's the cable not the starter*: another thing is denied right behind one."""
    denied, end = line.tokens[component.at[1] : component.at[1] + 1], component.at[1] + 1
    end += line.tokens[end : end + 1] in (("the",), ("a",), ("an",), ("my",))
    return denied == ("not",) and any(c.at[0] == end for c in line.components)


def source(line: Line) -> Component | None:
    """*It's coming from the switch above it, found it*: the source, told with words that settle."""
    if not line.has("found.cause") or line.has("hedge", "conditional", "negation", "clear"):
        return None
    for component in line.components:
        end = component.at[0]
        while end and line.tokens[end - 1] in _ARTICLES:
            end -= 1
        comes, link = (*("", ""), *line.tokens[:end])[-2:]
        if comes in suspect_words()["join.comes"] and link in ("from", "at", "through"):
            return component
    return None


def told_as_cause(line: Line) -> Component | None:
    """The thing said to be bad behind words that tell a cause: *there you go, the drain is blocked*.

    Without such words only where a guess was to be expected and nothing is doubted: *the radiator is choked*.
    """
    told = line.has("found.cause")
    if line.has("hedge") or not (told or line.does("hypothesis", "ruled_out")):
        return None
    if line.does("ruled_out") and not _NEVER.isdisjoint(line.tokens):
        return None
    for component in line.components:
        if line.is_place(component) or suffers(line, component) or is_denied(line, component, after=_NEAR):
            continue
        asked = line.tokens[max(0, component.at[0] - 2)] in ("is", "are", "was", "were")
        bad = _is_bad(line, component)
        if (bad and not asked) or (told and tone(line) < 0 and not line.does("ruled_out")):
            return component
    return None


def _is_bad(line: Line, component: Component) -> bool:
    """Whether a line says that a component is broken or the like; *dead on* and *dead right* are good."""
    inside = any(c.at[0] <= component.at[0] < c.at[1] for c in line.cues("confirm.state"))
    if not inside and fault_of(line, component) in _HOW_WARM:
        return False
    right = not {"on", "right"}.isdisjoint(line.tokens[component.at[1] : component.at[1] + _NEAR + 1])
    return (inside or fault_of(line, component) is not None) and not right


def cleared_by_name(line: Line) -> list[Component]:
    """Things that stand in or right behind words that clear: *nothing wrong with the motor*."""
    spans = [c.at for c in line.cues("clear.named")]
    return [c for c in line.components if any(start <= c.at[0] <= end for start, end in spans)]


def unsays(line: Line, statement: str) -> bool:
    """Whether a line denies the state that a conclusion told of: *it's cracked ... it's not cracked*."""
    said = set(statement.lower().split()) - suspect_words()["names.stop"] - _ARTICLES
    pairs = pairwise(line.tokens)
    return any(no in suspect_words()["join.denials"] and state in said for no, state in pairs)


def only_bystander(line: Line, entity: Component) -> bool:
    """*The thermostat was only the victim*, *is only the mirror*: what sounds like a conclusion clears."""
    said = any(
        cue.text.split()[-1] in _BYSTANDERS and entity.at[1] <= cue.at[0]
        for cue in line.cues("clear.withdraw")
    )
    verb, only, article = (*line.tokens[entity.at[1] : entity.at[1] + 3], "", "", "")[:3]
    return said or (verb in _BEING and only in _ONLY and article in ("the", "a", "an"))


def partner(line: Line, entity: Component, is_open: Callable[[Component], bool]) -> Component | None:
    """*Flue and jet between them*: the second of two things settled together; at the end an open one."""
    for other in line.components:
        between: Sequence[str] = line.tokens[entity.at[1] : other.at[0]]
        if other.at[0] >= entity.at[1] and "and" in between[:1] and len(between) <= 3:
            ends = other.at[1] == len(line.tokens)
            last = ends and (is_open(other) or line.has("confirm", "settle"))
            return other if line.has("two_causes") or len(between) == 1 or last else None
    return None
