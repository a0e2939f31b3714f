"""What is said after a fastener's name: size, drive, count (*lug nuts, nineteen mil, six of them*)."""

from __future__ import annotations

from narrator.language.bare import LENGTH_NOUNS
from narrator.language.fastenernames import (
    ADJECTIVES,
    DRIVES,
    GOING_ON,
    INCH,
    IS,
    MM,
    TORX_CODE,
    WITH_HEADS,
    Phrase,
)
from narrator.language.figures import Figure, Figures
from narrator.language.numberwords import DENOMINATORS
from narrator.language.sizes import HEADS, PLURALS, STANDARD, TORX
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.values import Size

_LEAST = 7
"""A number up to here is no size where nothing else tells that it is one."""
_AFTER_SIZE = frozenset("and so but impact breaker with on".split())
"""What may follow *the clutch nut is a nineteen*."""
_LABEL_ENDS = frozenset(("and", "off", "out", "of", "at", "from", "holding", "under", "behind", "on"))


class AfterNoun:
    """Reads to the right of a fastener's name; ``starts`` are the tokens at which other names begin."""

    def __init__(self, notes: Notes, found: Figures, taken: list[bool], starts: list[int]) -> None:
        self.notes, self.words, self.found = notes, notes.words, found
        self.taken, self.starts = taken, starts

    def read(self, phrase: Phrase) -> None:
        """What is said after the noun: its size, then how many (*lug nuts, nineteen mil, six of them*)."""
        self.of_them(phrase)
        self.heads(phrase)
        if phrase.size is None:
            self.size_after(phrase)
            self.of_them(phrase)

    def of_them(self, phrase: Phrase) -> None:
        """*m eight bolts, four of them*: a count said after the noun."""
        figure = self.found.starting.get(phrase.noun[1])
        sized = phrase.count is not None and phrase.size is None and phrase.count in HEADS
        headed = self.words[phrase.noun[1] - 1] in WITH_HEADS  # not "ten clips, three of them new"
        if (
            sized
            and headed
            and phrase.count
            and phrase.count > _LEAST
            and figure
            and self.of_those(figure.end)
        ):
            phrase.size, phrase.count = Size(phrase.count, "mm"), None  # "thirty six nuts, four of them"
        if phrase.count is not None:
            return
        if figure and self.of_those(figure.end):
            phrase.count, phrase.said = int(figure.value), True
            phrase.noun = (phrase.noun[0], figure.end + 2)
            return
        for i in range(phrase.noun[1] + 1, phrase.noun[1] + 5 if phrase.plural and not phrase.size else 0):
            figure = self.found.starting.get(i)  # "clips pop pop pop nine of 'em"
            if (
                figure
                and self.of_those(figure.end)
                and figure.value > 1
                and not any(self.taken[i : figure.end])
            ):
                phrase.count, phrase.said = int(figure.value), True
                return

    def heads(self, phrase: Phrase) -> None:
        """*eight M6 flange bolts, ten mil heads*: the head is the tool's size, not the thread's."""
        figure, words = self.found.starting.get(phrase.noun[1]), self.words
        if figure is None or figure.value not in HEADS or any(self.taken[figure.start : figure.end]):
            return
        end = figure.end + (words[figure.end : figure.end + 1] != [] and words[figure.end] in MM)
        if words[end : end + 1] in (["head"], ["heads"]):
            phrase.size, phrase.noun = Size(figure.value, "mm"), (phrase.noun[0], end + 1)

    def of_those(self, i: int) -> bool:
        """*of them* from token ``i``."""
        return self.words[i : i + 1] == ["of"] and self.words[i + 1 : i + 2] in (["them"], ["'em"], ["em"])

    def size_after(self, phrase: Phrase) -> None:
        """*one allen bolt, five mil*, *the nut is a twenty seven*, *u bolts are nine sixteenths*."""
        words, i = self.words, phrase.noun[1]
        i += i < len(words) and words[i] in ("head", "heads")
        gone = words[i : i + 1] in (["off"], ["out"]) and i + 1 not in self.notes.marks
        if gone and self.inch_and(phrase, i + 1):  # "two flare nuts off, inch and an eighth"
            return
        i = self.past_they(self.past_particle(i))
        i += words[i : i + 1] == ["that"] and words[i + 1 : i + 2] in (["is"], ["'s"], ["are"])
        verb = i < len(words) and words[i] in IS and i not in self.notes.marks
        measure = i < len(words) and words[i] == "of"
        i += verb or measure or self.at_size(i)
        article = verb and i < len(words) and words[i] in ("a", "an")
        i += article
        i += i < len(words) and words[i] == "all"
        if self.torx_after(phrase, i) or self.inch_and(phrase, i):
            return
        size, end = PLURALS.get(words[i] if i < len(words) else ""), i + 1
        unit = "mm"
        if size is None:
            figure = self.found.starting.get(i)
            if figure is None or any(self.taken[figure.start : figure.end]):
                return
            size, end = figure.value, figure.end
            following = words[end] if end < len(words) else ""
            if figure.form in ("fraction", "mixed") and (
                following in INCH or not unit_at(words, end, clinging=False, part=True)
            ):
                unit, end = "in", end + (following in INCH)
            elif following in MM or following == "s":
                end += 1
            elif self.is_plain_size(phrase, figure, i, measure):
                pass
            elif not (article and self.is_all_told(figure)):
                return
        if (unit == "mm" and (size not in HEADS or size < 3)) or size > 60:
            return
        if end < len(words) and words[end] in LENGTH_NOUNS and words[end - 1] in MM:
            return
        if any(end <= s < end + 3 and ADJECTIVES.issuperset(words[end:s]) for s in self.starts):
            return  # "the clamp's a five sixteenths worm clamp": the size is the next one's
        phrase.size, phrase.noun = Size(size, unit), (phrase.noun[0], end)
        if (hit := DRIVES.at(words, end)) and phrase.drive is None:
            phrase.drive, phrase.noun = hit[1], (phrase.noun[0], hit[0])

    def is_all_told(self, figure: Figure) -> bool:
        """*The nut is a twenty seven*, *is a nineteen and the cover is off*: the number is the size told."""
        end = figure.end
        following = self.words[end] if end < len(self.words) and end not in self.notes.marks else ""
        plain = figure.whole and figure.value > _LEAST and not self.found.starting.get(end)
        return plain and (not following or following in _AFTER_SIZE)

    def inch_and(self, phrase: Phrase, i: int) -> bool:
        """*the big nut, an inch and an eighth*."""
        words = self.words
        i += words[i : i + 1] in (["a"], ["an"], ["one"])
        if words[i : i + 2] != ["inch", "and"] or (i + 2) in self.notes.marks:
            return False
        j = i + 2 + (words[i + 2 : i + 3] in (["a"], ["an"], ["one"]))
        figure = self.found.starting.get(i + 2) or self.found.starting.get(j)
        part, end = (figure.value, figure.end) if figure else (0.0, j)
        if not 0 < part < 1:
            if j >= len(words) or words[j] not in DENOMINATORS:
                return False
            part, end = 1 / DENOMINATORS[words[j]], j + 1
        phrase.size, phrase.noun = Size(1 + part, "in"), (phrase.noun[0], end)
        return True

    def is_plain_size(self, phrase: Phrase, figure: Figure, i: int, measure: bool) -> bool:
        """*two bolt thirteen*, *two nuts of thirteen*, *both bolts thirteen back in*."""
        straight = i == phrase.noun[1]
        if straight and (phrase.count or 0) > 1 and not phrase.plural and figure.value in STANDARD:
            return True
        unit = unit_at(self.words, figure.end, clinging=False, part=False)
        if straight and not phrase.plural and self.is_label(phrase, figure):
            return True
        if measure and figure.whole and figure.value in STANDARD and not unit:
            return True
        return straight and phrase.plural and self.bare_size(phrase, figure.value, figure.end)

    def bare_size(self, phrase: Phrase, size: float, end: int) -> bool:
        """Whether a bare number after counted fasteners is their size and no torque."""
        if not phrase.said or size not in STANDARD or not 7 <= size <= 24 or end - phrase.noun[1] != 1:
            return False
        following = self.words[end] if end < len(self.words) and end not in self.notes.marks else ""
        if unit_at(self.words, end, clinging=True, part=False) or self.found.starting.get(end):
            return False
        going = GOING_ON - {"on", "in"} if not {"off", "out"}.isdisjoint(self.words) else GOING_ON
        calm = going.isdisjoint(self.words) and (not following or following in ("and", "all", "both"))
        return following in ("back", "out", "off", "in") or calm

    def is_label(self, phrase: Phrase, figure: Figure) -> bool:
        """*the union nut twenty two*, *a bolt thirteen at the bottom*: a head size, no torque."""
        following = self.words[figure.end] if figure.end < len(self.words) else ""
        if not figure.whole or figure.value not in STANDARD or not 7 <= figure.value <= 32:
            return False
        if unit_at(self.words, figure.end, clinging=True, part=False) or self.found.starting.get(figure.end):
            return False
        calm = GOING_ON.isdisjoint(self.words[: figure.start])
        return calm and (not following or figure.end in self.notes.marks or following in _LABEL_ENDS)

    def past_particle(self, i: int) -> int:
        """*nut off that's a thirty two*, *bolt out seventeen mil*: the token after the particle."""
        words = self.words
        if words[i : i + 1] not in (["off"], ["out"]) or i in self.notes.marks or i + 1 in self.notes.marks:
            return i
        figure = self.found.starting.get(i + 1)
        sized = (
            figure
            and words[figure.end : figure.end + 1]
            and words[figure.end] in MM
            and not any(figure.end < s <= figure.end + 3 for s in self.starts)
        )
        told = words[i + 1 : i + 2] == ["that"] and words[i + 2 : i + 3] in (["is"], ["'s"])
        return i + 1 if sized or told else i

    def past_they(self, i: int) -> int:
        """*four nuts off and they're fifteen sixteenths*: the token before what they are."""
        words = self.words
        start = i + (words[i : i + 1] in (["off"], ["out"]))
        start += words[start : start + 1] == ["and"]
        told = words[start : start + 1] == ["they"] and words[start + 1 : start + 2] in (["are"], ["'re"])
        return start + 2 if told and start not in self.notes.marks else i

    def at_size(self, i: int) -> bool:
        """*two pinch bolts at ten mil*: a size where its unit is said, no torque."""
        figure = self.found.starting.get(i + 1)
        unit = self.words[figure.end : figure.end + 1] if figure else []
        return self.words[i : i + 1] == ["at"] and bool(unit) and unit[0] in MM

    def torx_after(self, phrase: Phrase, i: int) -> bool:
        """*three screws, T10*, *six screws t twenty*."""
        word = self.words[i] if i < len(self.words) else ""
        code, figure = TORX_CODE.fullmatch(word.rstrip("s")), self.found.starting.get(i + 1)
        size, end = (float(code[1]), i + 1) if code else (figure.value, figure.end) if figure else (0.0, i)
        if size not in TORX or not (code or word in ("t", "torx")):
            return False
        phrase.size, phrase.drive, phrase.noun = Size(size, "T"), "torx", (phrase.noun[0], end)
        return True
