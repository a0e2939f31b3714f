"""Parts, tools, materials and positions: listed names and noun phrases built on a part's noun.

A phrase is a run of modifiers and part nouns that ends in a part noun ("left rear door harness boot").
It keeps the words that were said, singular. What another stage has claimed, a blocked phrase and a noun
in the place of a verb ("pump it") are left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import repeat

from narrator.language import vocabulary as voc
from narrator.language.figures import figures_of
from narrator.language.lone_sides import lone_sides
from narrator.language.noun_place import bare, calls_for_amount, command_place, places, verb_place
from narrator.language.stage import stage
from narrator.language.terms import Term
from narrator.language.tokens import Notes
from narrator.language.vocabulary import Units, Vocabulary, vocabulary
from narrator.values import Component, Entity, Material, Position, Span, Tool

_NONE, _MODIFIER, _NOUN = 0, 1, 2
_P = places()
_SIDES, _BEFORE_SIDE, _CORNER = _P["sides"], _P["before_side"], _P["corner"]
_AREAS, _BEFORE_AREA, _EDGE = _P["areas"], _P["before_area"], _P["edge"]


@dataclass(slots=True)
class Scene:
    """One utterance under the hands of this stage; lists are by unit."""

    notes: Notes
    known: Vocabulary
    units: Units
    said: Sequence[str]
    nouns: list[str]
    flags: list[int]
    taken: list[bool]
    glued: list[Term | None]
    found: list[Entity]

    def word(self, i: int) -> str:
        """The unit's word as said, empty outside the utterance."""
        return self.said[i] if 0 <= i < len(self.said) else ""

    def mark(self, i: int) -> bool:
        """Whether punctuation stands before unit ``i``."""
        marks = self.notes.marks
        return bool(marks) and i < len(self.said) and self.units.starts[i] in marks

    def place(self, start: int, end: int) -> tuple[Span, Span]:
        """Heard characters and tokens of the units ``start`` to ``end``."""
        at = (self.units.starts[start], self.units.ends[end - 1])
        return self.notes.span(*at), at

    def claim(self, start: int, end: int, entity: Entity) -> None:
        """Keep an entity and take its units."""
        self.found.append(entity)
        for i in range(start, end):
            self.taken[i] = True


@stage("components")
def components(notes: Notes) -> None:
    """Append Component, Tool, Material and Position entities."""
    units = notes.scratch.get("units")
    if not isinstance(units, Units) or not units.said:
        return
    found: list[Term] = notes.scratch["terms"]  # type: ignore[assignment]
    known = vocabulary()
    said = units.said
    nouns: list[str] = notes.scratch["nouns"]  # type: ignore[assignment]
    flags = [*map(known.flags.get, nouns, repeat(0))]
    tokens, joined = notes.taken(), len(said) < len(notes.words)
    for figure in figures_of(notes).all:
        rated = notes.words[figure.end : figure.end + 1] == ["amp"]  # "the ten amp fuse"
        if figure.form == "decimal" or rated:  # "full throttle point zero five"
            tokens[figure.start : figure.end + rated] = [True] * (figure.end + rated - figure.start)
    taken = [any(tokens[a:b]) for a, b in zip(units.starts, units.ends, strict=True)] if joined else tokens
    scene = Scene(notes, known, units, said, nouns, flags, taken, [None] * len(said), [])
    if found:
        _settle_terms(scene, found)
    _settle_runs(scene)
    lone_sides(scene)
    notes.entities.extend(scene.found)


def _settle_terms(scene: Scene, found: list[Term]) -> None:
    """Claim listed tools, materials and positions; note listed parts for the runs."""
    parts = {term.units for term in found if term.kind == "component"}
    for start, end in (term.units for term in found if term.kind == "blocked"):
        if not any(t.units[0] < end < t.units[1] for t in found if t.kind in voc.NOMINAL):
            scene.taken[start:end] = [True] * (end - start)
    for term in found:
        start, end = term.units
        if any(scene.taken[start:end]):
            continue
        elif term.kind == "component":
            scene.glued[start:end] = [term] * (end - start)
        elif term.kind == "position" and not (scene.flags[end] & voc.SIDED if end < len(scene.said) else 0):
            _claim_term(scene, term, Position)
        elif term.kind in ("tool", "material") and term.units not in parts and _is_thing(scene, term):
            _claim_term(scene, term, Tool if term.kind == "tool" else Material)


def _claim_term(scene: Scene, term: Term, sort: type[Position] | type[Tool] | type[Material]) -> None:
    span, at = scene.place(*term.units)
    name = term.name if term.name in scene.known.plural_only else _name(scene, *term.units)
    scene.claim(*term.units, sort(span=span, at=at, rule=term.group, name=name))


def _is_thing(scene: Scene, term: Term) -> bool:
    """Whether a listed tool or material is meant as a thing here, not as a verb or a part's modifier."""
    start, end = term.units
    if term.kind == "material":
        following = scene.flags[end] if end < len(scene.said) and not scene.mark(end) else 0
        if following & (voc.HEAD | voc.FASTENER) or scene.known.nominal.get(_noun(scene, end), {}).get(""):
            return False
    if end - start > 1:
        return True
    if scene.flags[start] & voc.SIDED and scene.word(start - 1) in _SIDES:
        return False  # "the passenger mirror"
    on_the_move = scene.word(end) in _P["after_stuff"] and not scene.mark(end)
    if scene.flags[start] & voc.SHY and not calls_for_amount(scene, start) and not on_the_move:
        return False
    return not (scene.flags[start] & voc.VERB and verb_place(scene, start))


def _noun(scene: Scene, i: int) -> str:
    return scene.nouns[i] if i < len(scene.nouns) and not scene.mark(i) else ""


_ENDS, _LEADS = voc.HEAD | voc.WEAK | voc.DEFINITE, voc.MODIFIER | voc.WHOLE


def _kinds(scene: Scene) -> list[int]:
    """Whether each unit may end a part's name, may only stand before its noun, or neither."""
    return [
        _NONE if taken else _NOUN if glued or flags & _ENDS else _MODIFIER if flags & _LEADS else _NONE
        for taken, glued, flags in zip(scene.taken, scene.glued, scene.flags, strict=True)
    ]


def _settle_runs(scene: Scene) -> None:
    kinds = _kinds(scene)
    i, size = 0 if any(kinds) else len(kinds), len(kinds)
    while i < size:
        if not kinds[i]:
            i += 1
            continue
        end = i + 1
        while end < size and kinds[end] and not _breaks(scene, end):
            end += 1
        last = end
        while last > i and kinds[last - 1] != _NOUN:
            last -= 1
        if last > i:
            _settle_run(scene, i, last)
        else:
            _area(scene, i)
        i = end


def _breaks(scene: Scene, i: int) -> bool:
    """Whether a new phrase begins at ``i``: after a mark, or after a plural that no listed name holds."""
    if scene.mark(i):
        return True
    before, here = scene.glued[i - 1], scene.glued[i]
    if before is not None and before is here:
        return False
    return scene.said[i - 1] != scene.nouns[i - 1] and bool(scene.flags[i - 1] & voc.HEAD or before)


def _settle_run(scene: Scene, start: int, end: int) -> None:
    start = _trim(scene, start, end)
    end -= _ends_in_verb(scene, start, end)
    if end - start == 1 and _is_not_part(scene, start):
        return
    if end - start > 1 and scene.word(end - 1) in _P["particles"] and bare(scene, start):
        return  # "lock off, plug in": a deed, where "the lock off" is a valve
    fixing = end < len(scene.said) and scene.flags[end] & voc.FASTENER and not scene.mark(end)
    if fixing and end - start == 1 and scene.flags[start] & voc.FASTENER_NOUN:
        return
    start = _with_corner(scene, start)
    side = _side(scene, start, end)
    end = _numbered(scene, end)
    term = scene.glued[start]
    listed = term is not None and term.units == (start, end)
    rule = (
        term.group if term is not None and listed else "phrase.compound" if end - start > 1 else "phrase.noun"
    )
    span, at = scene.place(start, end)
    name = _name(scene, start, end)
    owner = bool(fixing) and end - start == 1 and scene.said[start] == scene.nouns[start]
    made = Component(span=span, at=at, rule=rule, name=name, head=scene.nouns[end - 1], owner=owner)
    scene.claim(start, end, made)
    if side is not None:
        scene.claim(side, start, _position(scene, side, start, "position.before_part"))


def _with_corner(scene: Scene, start: int) -> int:
    """A corner said before a door belongs to its name: where the name begins."""
    door = start
    while scene.word(door) in _CORNER:
        door += 1
    if door == len(scene.said) or not scene.flags[door] & voc.SIDED:
        return start
    begin = start
    while (
        begin
        and start - begin < 3
        and scene.word(begin - 1) in ("left", "right", "front", "rear", "hand", "back")
    ):
        begin -= 1
    return begin


def _trim(scene: Scene, start: int, end: int) -> int:
    """Drop a verb and common adjectives at the left edge of a run."""
    while end - start > 1 and scene.glued[start] is None:
        flags, noun = scene.flags[start], scene.nouns[start]
        order = flags & voc.COMMAND and command_place(scene, start)
        if not (order or (noun in _EDGE and bare(scene, start))):
            break
        start += 1
    return start


def _ends_in_verb(scene: Scene, start: int, end: int) -> bool:
    """ "The pump stops where it is": what looks like the last noun of a name tells what the thing does."""
    last = end - 1
    if last == start or scene.nouns[last] not in _P["verbs_too"]:
        return False
    inflected = scene.word(last) != scene.nouns[last] and scene.word(last - 1) == scene.nouns[last - 1]
    known = scene.glued[start]
    listed = known is not None and known.units[1] == end
    goes_on = scene.word(end) in _P["after_verb"] and not scene.mark(end)
    return inflected and goes_on and not listed and scene.word(start - 1) in _P["articles"]


def _is_not_part(scene: Scene, i: int) -> bool:
    """A single noun that says too little, or stands where a verb does."""
    flags = scene.flags[i]
    if flags & voc.DEFINITE and i and not scene.mark(i) and scene.word(i - 1) in scene.known.definite_after:
        return False
    if flags & (voc.WEAK | voc.DEFINITE) or not (flags & voc.HEAD or scene.glued[i]):
        return True
    if flags & voc.BARE and bare(scene, i):
        return not _alone_with_particle(scene, i)
    return bool(flags & voc.VERB) and verb_place(scene, i)


def _alone_with_particle(scene: Scene, i: int) -> bool:
    """ "Crank off, cover off": a clause of a part and where it goes."""
    last = i + 1 + (scene.word(i + 1) in ("left", "right") and not scene.mark(i + 1))
    ends = last + 1 >= len(scene.said) or scene.mark(last + 1)
    ends |= scene.word(last + 1) in _P["after_particle"]
    return (
        (i == 0 or scene.mark(i))
        and scene.word(last) in _P["particles"]
        and ends
        and bool(scene.flags[i] & voc.HEAD)
    )


def _side(scene: Scene, start: int, end: int) -> int | None:
    """Where a side said right before a part begins: "the passenger spindle", "on the left mirror"."""
    i = start - 1
    if i >= 1 and scene.word(i) == "'s":
        i -= 1
    if i < 0 or scene.taken[i] or scene.word(i) not in _SIDES or scene.flags[start] & voc.SIDED:
        return None
    opens = scene.word(i) == "left" and (i == 0 or scene.mark(i))
    clear = opens or scene.word(i) not in ("left", "right") or (i > 0 and scene.word(i - 1) in _BEFORE_SIDE)
    return i if clear and end > start else None


def _position(scene: Scene, start: int, end: int, rule: str) -> Position:
    span, at = scene.place(start, end)
    return Position(span=span, at=at, rule=rule, name=_name(scene, start, end))


def _area(scene: Scene, i: int) -> None:
    """ "from the rear": the end of the machine by itself."""
    said = i >= 2 and scene.word(i) in _AREAS and scene.word(i - 1) == "the"
    if said and scene.word(i - 2) in _BEFORE_AREA and scene.word(i + 1) not in ("of", "end"):
        scene.claim(i, i + 1, _position(scene, i, i + 1, "position.area"))


def _numbered(scene: Scene, end: int) -> int:
    """Take a number into the name: "fuse eight", "pin eighty seven"."""
    if not scene.flags[end - 1] & voc.NUMBERED or scene.said[end - 1] != scene.nouns[end - 1]:
        return end
    last = end
    while last < len(scene.said) and last - end < 2 and not scene.taken[last] and not scene.mark(last):
        if scene.word(last) not in _P["numbers"] and not scene.word(last).isdigit():
            break
        last += 1
    follows = scene.flags[last] if last < len(scene.said) else 0
    return end if follows & (voc.FASTENER | voc.HEAD) or scene.word(last) in _P["units"] else last


def _name(scene: Scene, start: int, end: int) -> str:
    """The words as said, the last one singular."""
    words = [*scene.said[start:end]]
    if " ".join(words) not in scene.known.plural_only and words[-1] not in scene.known.plural_only:
        words[-1] = scene.nouns[end - 1]
    return " ".join(words).replace(" '", "'")
