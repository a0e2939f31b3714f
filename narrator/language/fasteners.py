"""Fasteners: noun phrases (*two rusty ten mil flange bolts*), drives (*three torx twenties*) and bare sizes.

A head size is a tool's size, never a thread. The noun is read first, then leftwards: size, adjectives, words
of the component it belongs to (left for the component stage), count.
"""

from __future__ import annotations

from narrator.language.afternoun import AfterNoun
from narrator.language.apposition import sizes_apart
from narrator.language.barefasteners import find_bare, may_be_bare
from narrator.language.candidates import Candidate, candidates
from narrator.language.fastenernames import (
    ADJECTIVES,
    COUNTS,
    DRIVE_RULE,
    DRIVES,
    INCH,
    KINDS,
    MM,
    POINTING,
    STOP,
    THREAD,
    TORX_CODE,
    UNKNOWN_MOST,
    WITH_HEADS,
    Phrase,
    excluded,
    is_doubtful,
    is_plural,
)
from narrator.language.figures import Figure, Figures, figures_of
from narrator.language.newfasteners import find_new, find_old
from narrator.language.numberwords import DENOMINATORS
from narrator.language.sizes import HEADS, PITCHES, TORX, counted_fraction, inch_and, split_size
from narrator.language.stage import stage
from narrator.language.tables import fired, taken_back, used
from narrator.language.tokens import Notes
from narrator.language.units import is_measure
from narrator.values import Fastener, Look, Repair, Size

_COUNTED, _MANY = 5, 12
"""Up to here a number after *a*, *the* counts one named in the singular, up to there one after neither."""
_TURNS = frozenset(("turn", "turns"))


class _Reader:
    """Reads one utterance's fastener phrases."""

    def __init__(self, notes: Notes, found: Figures) -> None:
        self.notes = notes
        self.words = notes.words
        self.found = found
        self.ending = {f.end: f for f in found.all}
        self.taken = notes.taken()
        for i in taken_back(notes):
            self.taken[i] = True

    def touching(self, figure: Figure) -> Figure | None:
        """The figure that ends where ``figure`` starts."""
        return None if figure.start in self.notes.marks else self.ending.get(figure.start)

    def left(self, i: int, phrase: Phrase) -> int:  # noqa: PLR0912 - one way out a form
        """Read leftwards; ``i`` is the first token already read. Fills ``phrase``."""
        notes, words = self.notes, self.words
        while i > 0 and i not in notes.marks and not self.taken[i - 1]:
            word = words[i - 1]
            if word in MM and (figure := self.ending.get(i - 1)) and phrase.size is None:
                i = self.sized(figure, phrase, "mm")
            elif word in INCH and (figure := self.ending.get(i - 1)) and phrase.size is None:
                i = self.sized(figure, phrase, "in")
            elif word == "ba" and (figure := self.ending.get(i - 1)) and figure.end not in notes.marks:
                i = figure.start  # "six 2BA screws": a thread by its number
            elif figure := self.ending.get(i):
                if phrase.unknown and is_measure(self.words, figure.end, figure.written):
                    break  # "the bolts at thirty newton metres, washers under"
                hit = inch_and(words, figure.start) if phrase.size is None and figure.value < 1 else None
                if hit is not None:
                    phrase.size, i = Size(1 + figure.value, "in"), hit
                    continue
                if figure.start > 0 and words[figure.start - 1] in ("number", "grade", "class"):
                    i = figure.start - 1
                    continue
                before = i
                i = self.number(figure, phrase)
                if phrase.count is not None or i == before:
                    break
                continue
            elif phrase.size is None and word in DENOMINATORS and (hit := inch_and(words, i - 1)) is not None:
                phrase.size, i = Size(1 + 1 / DENOMINATORS[word], "in"), hit
            elif hit := self.drive(i, phrase):
                i = hit
            elif match := THREAD.fullmatch(word):
                phrase.size = Size(float(match[1]), "mm")
                i -= 1
            elif (code := TORX_CODE.fullmatch(word)) and float(code[1]) in TORX:
                phrase.size, phrase.drive = Size(float(code[1]), "T"), "torx"
                i -= 1
            elif word in COUNTS:
                phrase.count, phrase.said, phrase.count_at = COUNTS[word], True, i - 1
                i -= 1
                break
            elif words[max(0, i - 2) : i] == ["hold", "down"]:
                i -= 2  # "two hold down clips"
            elif word in ADJECTIVES:
                phrase.new |= word == "new" and not phrase.unknown
                i -= 1
            elif (
                word in STOP
                or len(phrase.unknown) >= UNKNOWN_MOST
                or (is_plural(word) and i < phrase.noun[0])
            ):
                break
            else:
                phrase.unknown.append(i - 1)
                i -= 1
        return i

    def drive(self, i: int, phrase: Phrase) -> int | None:
        """A drive's name that ends at ``i``: where it starts."""
        for length in (2, 1):
            if i >= length and (hit := DRIVES.at(self.words, i - length)) and hit[0] == i:
                phrase.drive = phrase.drive or hit[1]
                return i - length
        return None

    def sized(self, figure: Figure, phrase: Phrase, unit: str) -> int:
        """A figure with a size unit after it; a figure touching it is the count."""
        split = split_size(figure.value) if unit == "mm" and phrase.plural and figure.whole else None
        if split and not figure.written and 20 < figure.value < 100 and figure.value % 10 >= 5:
            other = f"{figure.value:g} mm"  # "twenty eight mil bolts"
            self.note_split(figure, phrase, int(figure.value // 10 * 10), figure.value % 10, other)
            return figure.start
        if split and (figure.value > 24 or not self.touching(figure)):
            self.note_split(figure, phrase, split.count, split.size, split.other)
            return figure.start
        if figure.value <= 60:
            phrase.size = Size(figure.value, unit)
        count = self.touching(figure)
        return self.count(count, phrase) if count and count.form in ("whole", "group") else figure.start

    def note_split(self, figure: Figure, phrase: Phrase, count: int, size: float, other: str) -> None:
        """Read a run-together figure (*210 mm*) as count and size in mm, and mark the repair for a look."""
        phrase.size, phrase.count, phrase.said, phrase.other = Size(size, "mm"), count, True, other
        phrase.count_at = figure.start
        span = self.notes.span(figure.start, figure.end)
        heard = self.notes.heard[slice(*span)]
        meant = f"{count} {size:g}"
        self.notes.repairs.append(Repair(span, heard, meant, "repair.split", 0.6 if other else 0.8))
        also = f"; it may also mean {other}" if other else ""
        reason = f"“{heard}” read as {count} of {size:g} mm by the standard head sizes{also}"
        self.notes.looks.append(Look("split", reason, 0, span))

    def counted(self, figure: Figure, phrase: Phrase) -> int | None:
        """*six sixteenths bolts*: six of 16 mm; *three sixteenths bolts* may be: inches, with a look."""
        words = self.words
        bottom = DENOMINATORS.get(words[figure.end - 1], 0) if figure.end - figure.start == 2 else 0
        if not bottom or words[phrase.noun[1] - 1] not in WITH_HEADS or phrase.drive:
            return None
        split = counted_fraction(figure.value, int(bottom))
        if split is None:
            return None
        if not split.other:
            self.note_split(figure, phrase, split.count, split.size, split.other)
            return figure.start
        phrase.other = f"{split.count} of {split.size:g} mm"
        span = self.notes.span(figure.start, figure.end)
        heard = self.notes.heard[slice(*span)]
        reason = f"“{heard}” read as {split.other}; it may also mean {phrase.other}"
        self.notes.looks.append(Look("split", reason, 0, span))
        return None

    def count(self, figure: Figure, phrase: Phrase) -> int:
        if figure.form in ("whole", "group") and 1 <= figure.value <= 200:
            phrase.count, phrase.said, phrase.count_at = int(figure.value), True, figure.start
            self.either(figure, phrase)
        return figure.start

    def either(self, figure: Figure, phrase: Phrase) -> None:
        """*two or three bolts*: the last is taken, the other kept, and a look asked for."""
        first = self.ending.get(figure.start - 1) if self.words[figure.start - 1] == "or" else None
        if figure.start and first and first.whole and first.value < figure.value and not phrase.other:
            phrase.other = f"{first.value:g}"
            span = self.notes.span(first.start, figure.end)
            heard = self.notes.heard[slice(*span)]
            self.notes.looks.append(Look("split", f"“{heard}” was said: read as {figure.value:g}", 0, span))

    def number(self, figure: Figure, phrase: Phrase) -> int:
        """A figure without a unit, seen from the right: a size, a thread or the count."""
        words, before = self.words, self.touching(figure)
        previous = words[figure.start - 1] if figure.start and figure.start not in self.notes.marks else ""
        torx = phrase.drive == "torx" or previous in ("t", "torx", "tx")
        if (
            torx
            and phrase.size is None
            and figure.value in TORX
            and (previous in ("t", "torx", "tx") or before)
        ):
            phrase.size, phrase.drive = Size(figure.value, "T"), "torx"
            return figure.start - (previous in ("t", "torx", "tx"))
        if previous == "m" and phrase.size is None:
            phrase.size = Size(figure.value, "mm")
            return figure.start - 1
        if previous == "by" and (thread := self.ending.get(figure.start - 1)):
            return self.number(thread, phrase)
        if figure.form == "fraction" and words[figure.end] in _TURNS:
            return self.count(before, phrase) if before else figure.start  # "four quarter turn screws"
        if phrase.size is None and figure.form in ("fraction", "mixed"):
            if before is None and (read := self.counted(figure, phrase)) is not None:
                return read
            phrase.size = Size(figure.value, "in")
            return self.count(before, phrase) if before else figure.start
        if phrase.size is None and before:
            if before.form == "fraction" and figure.value in PITCHES:
                return self.number(before, phrase)
            if before.whole and figure.value in HEADS and before.value <= 24:
                phrase.size = Size(figure.value, "mm")
                return self.count(before, phrase)
        single = phrase.size is None and not phrase.plural and figure.value in HEADS
        pointed = figure.written or previous in POINTING | {"a", "an", "another"}
        if single and ((pointed and figure.value > _COUNTED) or figure.value > _MANY):
            phrase.size = Size(figure.value, "mm")
            return figure.start
        if not phrase.plural and figure.value > _MANY:
            return figure.start  # "keeper bolt at forty five, new split pin"
        return self.count(figure, phrase)

    def partitive(self, i: int, phrase: Phrase) -> int:
        """*two of the (nine) bolts*: the count before *of* wins."""
        words, j = self.words, i
        while j > 0 and words[j - 1] in ("the", "those", "these", "them", "my", "his", "her", "all", "its"):
            j -= 1
        if j > 2 and words[j - 2 : j] == ["out", "of"] and (some := self.ending.get(j - 2)) and some.whole:
            return self.count(some, phrase)  # "two out of six studs"
        if j < 2 or words[j - 1] != "of":
            figure = self.ending.get(j)
            if figure and figure.form == "group" and j < i and figure.value == 2:
                return self.count(figure, phrase)
            if j and j < i and words[j - 1] == "both":
                phrase.count, phrase.said, phrase.count_at = 2, True, j - 1
                return j - 1
            return i
        figure = self.ending.get(j - 1) or self.ending.get(j)
        if figure and figure.form in ("whole", "group") and figure.value < 200:
            before = self.touching(figure)
            return self.count(figure, phrase) if before is None else i
        if words[j - 2] in ("both", "each", "none", "all") or words[j - 2] in COUNTS:
            phrase.count = COUNTS.get(words[j - 2], phrase.count)
            phrase.count_at = j - 2 if words[j - 2] in COUNTS else phrase.count_at
        return i

    def enter(self, phrase: Phrase, kind: str, rule: str) -> None:
        """Add the fastener; words of a component inside the phrase are left to the component stage."""
        notes = self.notes
        tight = max(phrase.unknown) + 1 if phrase.unknown else phrase.start
        if phrase.count_at is not None and phrase.count_at >= phrase.start and phrase.count_at < tight:
            used(notes).update(range(phrase.count_at, min(phrase.unknown or [tight])))
        at = (tight, phrase.noun[1])
        first = phrase.start if phrase.said or phrase.size else tight
        notes.entities.append(
            Fastener(
                span=(min(notes.source[first][0], notes.source[tight][0]), notes.source[at[1] - 1][1]),
                at=at,
                rule=rule,
                kind=kind,
                count=phrase.count,
                size=phrase.size,
                drive=phrase.drive,
                new=phrase.new,
                count_said=phrase.said,
                other=phrase.other,
                sure=0.6 if phrase.other else 1.0,
            )
        )
        for i in range(*at):
            self.taken[i] = True

    def nouns(self) -> None:
        """Every noun phrase whose head is a fastener."""
        hits = KINDS.all(self.words)
        starts = [hit[0] for hit in hits]
        for n, (start, end, (kind, rule)) in enumerate(hits):
            if n + 1 < len(hits) and hits[n + 1][0] == end and end not in self.notes.marks:
                continue  # "clamp bolt": the last noun is the head
            if self.taken[start] or excluded(self.notes, start, end, kind):
                continue
            phrase = Phrase((start, end), is_plural(self.words[end - 1]))
            first = start
            while first and first not in self.notes.marks and any(h[1] == first for h in hits[:n]):
                first = next(h[0] for h in hits[:n] if h[1] == first)
            first = self.left(first, phrase)
            first = self.partitive(first, phrase)
            phrase.start = min(first, start)
            AfterNoun(self.notes, self.found, self.taken, starts).read(phrase)
            if phrase.count is None and not phrase.plural and not self.pointed_at(first):
                phrase.count = 1
            if phrase.unknown:
                self.trim(phrase)
            if is_doubtful(self.notes, start, kind, phrase.said):
                self.doubt(phrase, kind, rule)
            else:
                self.enter(phrase, kind, rule)

    def doubt(self, phrase: Phrase, kind: str, rule: str) -> None:
        """Leave it to the memory: accepted once the session has named one of the kind for sure."""
        kept, taken = len(self.notes.entities), self.taken[:]
        self.enter(phrase, kind, rule)
        made, self.taken = self.notes.entities.pop(kept), taken
        if isinstance(made, Fastener):
            candidates(self.notes).append(Candidate(made, strong=False))

    def pointed_at(self, i: int) -> bool:
        """Whether a determiner that tells no number stands before token ``i`` (*the nut*, *that clip*)."""
        return i > 0 and i not in self.notes.marks and self.words[i - 1] in POINTING

    def trim(self, phrase: Phrase) -> None:
        """Without a count, unknown words before the adjectives are no part of the phrase."""
        if (
            phrase.count is not None
            and phrase.count > 1
            and not phrase.plural
            and phrase.count_at is not None
            and max(phrase.unknown) > phrase.count_at
        ):
            phrase.count, phrase.said, phrase.count_at = None, False, None
        if phrase.count_at is None:
            phrase.start = max(phrase.start, max(phrase.unknown) + 1)
            phrase.unknown = []


@stage("fasteners")
def fasteners_stage(notes: Notes) -> None:
    """Pipeline stage: fasteners named, and bare sizes that stand for them."""
    found = figures_of(notes)
    if KINDS.starts.keys().isdisjoint(notes.words) and not may_be_bare(notes, found):
        return
    reader = _Reader(notes, found)
    reader.nouns()
    sizes_apart(notes, found, reader)
    find_bare(notes, found)
    if found.all and "new" in notes.words:
        find_new(notes, found)
        find_old(notes, found)
    for entity in notes.entities:
        if isinstance(entity, Fastener) and entity.drive:
            fired(notes, DRIVE_RULE[entity.drive])
