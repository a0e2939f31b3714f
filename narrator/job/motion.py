"""Whether a group of fasteners is said to come off or to go on: evidence from the words around it.

Every word of motion is a piece of evidence with a place, a way and a weight. A particle counts as motion
(*cover on*, *two out*), a preposition does not (*on the bracket*). What is denied (*won't come out*) counts
as nothing.
"""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise

from narrator.job.chains import chains, word_is_place
from narrator.job.ledger_words import ledger_words, number
from narrator.job.line import Line
from narrator.job.network_word import with_network
from narrator.job.signs import Evidence, of_down_with, of_getting, of_held, of_staying
from narrator.values import Fastener, Measurement

_W = ledger_words()
_STRONG, _PARTICLE, _WEAK, _SIGN = 2.4, 2.0, 1.3, 1.0
_PER_TOKEN, _PER_BREAK, _PER_OTHER, _OWNED = 0.22, 0.7, 0.8, 0.9
_DENIED_WITHIN = 4
_COPULA = frozenset(("is", "are", "'s", "held", "sits", "sat", "hangs", "mounted", "fixed", "was", "were"))
_NOUN_AFTER = frozenset(("the", "a", "an", "its", "that", "this"))
_TELLING = frozenset(("back", "so", "from")).union(
    *(_W[f"off.{name}"] for name in ("particles", "verbs", "weak", "held")),
    *(_W[f"on.{name}"] for name in ("particles", "verbs", "signs", "drives", "gets")),
)
"""Words that may be evidence."""
_OUT_OF = frozenset(("of", "the", "my", "me"))
_ANDS = frozenset(("and", "then", "but", "so"))


class Motion:
    """The evidence of one line."""

    def __init__(self, line: Line) -> None:
        self.line, self.words = line, line.tokens
        self.breaks = line.breaks
        self.nouns: set[int] = set()
        for e in line.understood.entities:
            if not isinstance(e, Measurement):
                self.nouns.update(range(*e.at))
        self.parts = {c.at[0] for c in line.components}
        self._parts_end = {c.at[1] for c in line.components}
        self.fasteners = line.entities(Fastener)
        self._fastener_tokens = frozenset(i for f in self.fasteners for i in range(*f.at))
        self.chains = chains(self.words, self.fasteners, self.nouns) if self.fasteners else []
        self._told: dict[tuple[int, int], tuple[float, float]] = {}
        """What rules find in the words, by mention: several things are asked of each."""

    @cached_property
    def _every(self) -> tuple[list[Evidence], list[Evidence]]:
        """What happens and what is denied; worked out when first asked: most lines move nothing."""
        every = [e for i, word in enumerate(self.words) if word in _TELLING and (e := self._at(i))]
        denied = [e for e in every if self._denied(e)]
        return [e for e in every if e not in denied], denied

    @property
    def evidence(self) -> list[Evidence]:
        """The words of motion that are not denied, in order."""
        return self._every[0]

    @property
    def denied(self) -> list[Evidence]:
        """Those that are."""
        return self._every[1]

    def word(self, i: int) -> str:
        """Token ``i`` unless punctuation or the end of the line stands before it."""
        return self.words[i] if 0 <= i < len(self.words) else ""

    def after(self, i: int) -> str:
        """The word after token ``i``, empty at the end and before punctuation."""
        return "" if i + 1 in self.breaks else self.word(i + 1)

    def before(self, i: int) -> str:
        """The word before token ``i``, empty at the start and after punctuation."""
        return "" if i in self.breaks else self.word(i - 1)

    def _denied(self, evidence: Evidence) -> bool:
        low = max(0, evidence.start - _DENIED_WITHIN)
        window = [
            i
            for i in range(low, evidence.start)
            if not any(b in self.breaks for b in range(i + 1, evidence.start + 1))
        ]
        denied = [i for i in window if self.words[i] in _W["never.negation"]]
        denied = [i for i in denied if self.words[i : i + 2] != ("never", "been")]  # "they've never been out"
        return bool(denied) and not any(self.words[i] in _ANDS for i in range(denied[-1], evidence.start))

    def _at(self, i: int) -> Evidence | None:
        word, before, after = self.words[i], self.before(i), self.after(i)
        if i in self.nouns and word not in ("out", "off", "back"):
            return None
        if word == "back":
            return self._back(i, before, after)
        of_part = i > 0 and (i - 1 in self.nouns or before in ("it", "each")) and i not in self.breaks
        told = of_part and any(f.kind_said and i < f.at[1] <= i + 8 for f in self.fasteners)
        if (weight := of_getting(self.words, i, of_part=told)) is not None:
            return Evidence(i, i + 1, weight)
        if (weight := of_staying(self.words, i, self._fastener_tokens)) is not None:
            return Evidence(i, i + 1, weight)
        if (weight := of_held(self.words, i, self._fastener_tokens)) is not None:
            return Evidence(i, i + 2, weight)
        if word in _W["off.particles"]:
            if before in _W["off.not_after"] or before == "back":
                return None
            if word == "out" and after in _OUT_OF and self.is_source(i + 1 + (after == "of")):
                return None  # "two out of the new packet", "one out my tin"
            if word == "off" and not {"back", "backed", "backing"}.isdisjoint(self.words[max(0, i - 2) : i]):
                return None  # "i only backed it off"
            return Evidence(i, i + 1, -_PARTICLE)
        if word == "from" and i and (i - 1 in self.nouns) and after in _W["on.before_place"]:
            return Evidence(i, i + 1, -_SIGN)
        if word in _W["on.particles"]:
            return self._particle(i, before, after)
        return self._verb(i, word, before, after)

    def _verb(self, i: int, word: str, before: str, after: str) -> Evidence | None:
        if before in _NOUN_AFTER and word not in _W["on.signs"]:
            return None  # "allens of the pinch"
        if word in _W["off.verbs"]:
            return Evidence(i, i + 1, -_STRONG)
        if word == "thread" and after in _W["on.stuff"]:
            return None  # "they have thread glue"
        if word in _W["on.verbs"]:
            if word in ("put", "puts", "putting") and self._stows(i):
                return None
            return Evidence(
                i, i + 1, _WEAK if word in ("put", "puts", "done", "start", "hung", "hang") else _STRONG - 0.4
            )
        if word in _W["on.drives"] and self._is_driven(i):
            return Evidence(i, i + 1, _STRONG - 0.4)  # "run one screw in the frame"
        if word in _W["off.weak"] and after in ("in", "into", "on", "onto", "home"):
            return Evidence(i, i + 2, _WEAK)  # "popped in their grooves"
        if word in _W["off.weak"] and after != "of":  # "a drop of threadlocker"
            return Evidence(i, i + 1, -_SIGN)
        if word in _W["on.signs"]:
            return Evidence(i, i + 1, _SIGN)
        return None

    def _is_driven(self, i: int) -> bool:
        """Whether a fastener follows token ``i`` and then where it goes."""
        return any(
            f.at[0] == i + 1 and self.word(f.at[1]) in ("in", "into", "on", "onto") for f in self.fasteners
        )

    def _stows(self, i: int) -> bool:
        """*put it in a clean bottle*: what came off is laid aside."""
        what, where, after = (self.word(k) for k in (i + 1, i + 2, i + 3))
        return (
            what in _W["count.pronouns_any"]
            and where in ("in", "on", "into")
            and after in _W["on.before_place"]
        )

    def is_source(self, i: int) -> bool:
        """Whether spares are kept in what is named from token ``i`` on: *the new packet*, *my own box*; not
        in a part of several words (*the coil pack*)."""
        words = enumerate(self.words[i : i + 4], i)
        return any(word in _W["new.sources"] and not {k - 1, k} <= self.nouns for k, word in words)

    def _back(self, i: int, before: str, after: str) -> Evidence | None:
        if after in ("off", "out"):
            return (
                Evidence(i, i + 2, -_STRONG)
                if after == "out" and before not in ("right", "straight")
                else None
            )
        aside = _W["on.back_aside"]
        if any(self.words[k] in aside and k not in self.nouns for k in range(max(0, i - 3), i)):
            return None  # "stripped the wire back"; not "trim back on"
        if before in _W["on.slides"] and after not in ("in", "on", "home", "over", "up"):
            return None  # "the hose clip slid back"
        if before in _W["on.back_not_after"] or after in _W["on.not_back"]:
            return None
        if i + 1 in self.nouns and i + 1 not in self.breaks and before not in _W["on.verbs"]:
            owner = next((e for e in self.line.understood.entities if e.at[0] <= i + 1 < e.at[1]), None)
            if not isinstance(owner, Fastener):
                return None
        return Evidence(i, i + 1, _PARTICLE)

    def _particle(self, i: int, before: str, after: str) -> Evidence | None:
        tray = after in _W["off.trays"] or (
            after in _W["on.before_place"] and self.word(i + 2) in _W["off.trays"]
        )
        if self.word(i) in ("in", "on") and tray and self.word(i + 2) != "tight":
            return Evidence(i, i + 2, -_SIGN)
        if self.word(i) == "down" and i and i - 1 in self.nouns and before in _W["on.hangs"]:
            return Evidence(i, i + 1, -_WEAK)  # "undertray down six thirteens"
        begins = i == 0 or i in self.breaks
        if (weight := of_down_with(self.words, i, before, begins=begins)) is not None:
            return Evidence(i, i + 2, weight)
        held = before in _COPULA or (before == "in" and self.before(i - 1) in _COPULA)
        if held and self.word(i) == "on" and (number(after) or i + 1 in self.nouns):
            return Evidence(i, i + 1, -_SIGN)  # "the muffler is on two screws", "it's in on three"
        coaxed = before == "come" and self.word(i) == "on" and self.before(i - 1) not in _COPULA
        if before in _W["on.sits"] or coaxed:
            return None  # "from the outside in", "tucked in behind", "come on you little"
        there = after in ("there", "here") and any(
            f.at[1] == i for f in self.fasteners
        )  # "that clamp on there"
        if (word_is_place(self.word(i), after, before) and not there) or before in _COPULA:
            return None
        if self.words[i] == "up" and (
            before in ("crumbles", "chew", "use", "end", "seized") or after in ("top", "and")
        ):
            return Evidence(i, i + 1, 0.4)
        if i + 1 in self.parts and i + 1 not in self.breaks:
            return Evidence(i, i + 1, 0.8) if any(f.at[1] == i for f in self.fasteners) else None
        if self.word(i) == "on" and i - 1 in self._fastener_tokens and after in ("studs", "stud"):
            return None  # "eight nuts on studs"
        held_by = any(f.at[0] == i + 2 for f in self.fasteners)  # "the two of them on with four clips"
        if after == "with" and i and (i - 1 in self.nouns or before == "back" or held_by):
            return Evidence(i, i + 2, _STRONG)  # "drum on with both screws"
        return Evidence(i, i + 1, _WEAK)

    # ------------------------------------------------------------ asking

    def is_denied(self, start: int, end: int) -> bool:
        """Whether what is said nearest of the mention's motion is that it does not happen."""
        denied = max((abs(e.weight) - self.distance(e, start, end) for e in self.denied), default=0.0)
        return denied > max(0.5, *self.weigh(start, end))

    def weigh(self, start: int, end: int, *, network: bool = True) -> tuple[float, float]:
        """The best evidence for off and for on, as seen from the tokens ``start`` to ``end``.

        The network speaks where the rules find next to nothing; never without ``network``.
        """
        told = self._told.get((start, end))
        if told is None:
            told = self._told[start, end] = self._by_words(start, end)
        off, on = told
        seen = self.line.moves(start, end) if network else None
        return (off, on) if seen is None else with_network(off, on, seen)

    def _by_words(self, start: int, end: int) -> tuple[float, float]:
        """What rules find in the words."""
        off = on = 0.0
        if self.chains:
            start, end = next(((a, b) for a, b in self.chains if a <= start and end <= b), (start, end))
        own = any(e.start == end for e in self.evidence)
        for e in self.evidence:
            if own and (self._is_owned(e, start) or self._is_told_of_part(e, start)):  # "four out four in"
                continue
            weight = abs(e.weight) - self.distance(e, start, end)
            if e.weight < 0:
                off = max(off, weight)
            else:
                on = max(on, weight)
        return off, max(on, self._torque(end))

    def distance(self, e: Evidence, start: int, end: int) -> float:
        """What the way from a piece of evidence to a mention costs."""
        gap = max(start - e.end, e.start - end, 0)
        low, high = min(start, e.start), max(end, e.end)
        first, last = (end, e.start) if e.start >= end else (e.end, start)
        breaks = len([b for b in self.breaks if first <= b <= last])
        ands = len([word for word in self.words[first:last] if word in _ANDS])
        beside = [f for f in self.fasteners if low <= f.at[0] < high]
        others = len([f for f in beside if not (f.at[0] < end and start < f.at[1])])
        late = 0.25 if e.start >= end else 0.0
        owned = _OWNED if self._is_owned(e, start) else 0.0
        return (
            _PER_TOKEN * gap + _PER_BREAK * breaks + 0.3 * min(ands, 2) + _PER_OTHER * others + late + owned
        )

    def _is_owned(self, e: Evidence, start: int) -> bool:
        """Whether a word of motion follows another fastener, named before the mention at ``start``."""
        return any(b == e.start and b <= start for _, b in self.chains)

    def _is_told_of_part(self, e: Evidence, start: int) -> bool:
        """*Old batteries back in then four bolts out*, *bend it away*: said of another thing."""
        other = any(b in (e.start, e.start - 1) for b in self._parts_end)
        return e.start < start and (other or self.before(e.start) in _W["count.pronouns_any"])

    def _torque(self, end: int) -> float:
        """A torque after the mention and before the next: it goes on."""
        best = 0.0
        for m in self.line.entities(Measurement):
            if m.quantity == "torque" and 0 <= m.at[0] - end <= 8:
                between = sum(1 for f in self.fasteners if end <= f.at[0] < m.at[0])
                best = max(best, 1.8 - 0.1 * (m.at[0] - end) - 0.5 * between)
        return best if self.line.does("step") else 0.0

    def goes_on_from(self, start: int) -> bool:
        """Whether the mention that starts at ``start`` is told in one go with the one before it."""
        return any(a < start < b for a, b in self.chains)

    def near(self, start: int, end: int, words: frozenset[str], before: int = 4, after: int = 4) -> bool:
        """Whether one of these words stands near, in the same breath."""
        low = self.line.since_break(start, before)
        high = min([b for b in self.breaks if b >= end] + [end + after, len(self.words)])
        around = (*range(low, start), *range(end, high))
        return any(self.words[i] in words and self.before(i) not in _NOUN_AFTER for i in around)

    # ------------------------------------------------------------ phrases

    def says_off(self) -> bool:
        """Whether anything in the line comes off."""
        return any(e.weight <= -_WEAK for e in self.evidence)

    def says_on(self) -> bool:
        """Whether anything in the line goes on."""
        return any(e.weight >= _WEAK for e in self.evidence)

    def fresh(self, end: int, within: int) -> bool:
        """*new hose with two clamps*: something new stands before token ``end``, ``within`` so many."""
        return any(w in _W["new.words"] for w in self.words[max(0, end - within) : end])

    def goes_back(self, start: int) -> bool:
        """*back in*, *back on*, *the new one on with the same* from token ``start`` on."""
        same = self.words[-3:] == ("with", "the", "same") and len(self.words) >= start + 3
        return same or any(
            self.words[i] == "back" and self.word(i + 1) in ("in", "on", "together", "up")
            for i in range(start, len(self.words))
        )

    def from_the_old(self, end: int) -> bool:
        """*From the old (one)*, *off the old pump*: what held the old part holds the new."""
        return self.words[end + 1 : end + 3] == ("the", "old") and self.word(end) in ("from", "off", "of")

    def is_laid_aside(self, end: int) -> bool:
        """*One screw on the bench*: what came off before lies there."""
        return any(e.start == end and e.weight == -_SIGN and e.end == end + 2 for e in self.evidence)

    def never_was(self, end: int) -> bool:
        """*A star washer it never had*, *one rivet from my jar*: it was not there before."""
        after = self.words[end : end + 10]
        of = end + (after[:2] == ("out", "of"))
        if self.word(of) in ("from", "of", "out") and self.is_source(of + 1):
            return True
        after = after[of - end :]
        pairs = set(pairwise(after))
        return bool(
            pairs & {("never", "had"), ("was", "none"), ("wasn't", "there"), ("was", "not"), ("had", "none")}
        )
