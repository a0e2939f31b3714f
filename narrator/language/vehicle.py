"""The machine: year, make and model in the opening words, and the distance on the clock."""

from __future__ import annotations

import re
from functools import cache

from narrator.language.fastenernames import DRIVES, KINDS
from narrator.language.figures import Figure, Figures, figures_of, join
from narrator.language.numberwords import is_number
from narrator.language.sizes import PLURALS
from narrator.language.stage import stage
from narrator.language.tables import load
from narrator.language.terms import Term, deeds
from narrator.language.tokens import Notes
from narrator.language.units import STARTS, UnitHit, unit_at
from narrator.paths import GRAMMARS
from narrator.phrases import Phrases
from narrator.values import Odometer, Vehicle

_TABLE = load("vehicle")
COMMON = frozenset(_TABLE["words"][0]["words"].split()) | frozenset(
    word for row in load("money")["currency"] for word in row["words"]
)
_CUES = Phrases((w, True) for w in next(r for r in _TABLE["odometer"] if r["id"] == "odometer.cue")["words"])
_AGAINST = frozenset(next(r for r in _TABLE["odometer"] if r["id"] == "odometer.large")["against"])
_RUN = frozenset(("run", "has", "got", "done", "only", "covered"))
MACHINES = Phrases((w, True) for w in _TABLE["machine"][0]["words"])
_ABOUT = ("example", "not", "yes", "no", "gives", "source", "#")
_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)?")
_NAME = re.compile(r"[^\W\d_]{3,}")
_INTRODUCED = Phrases(
    (w, True) for w in ("it's a", "it 's a", "it is a", "this is a", "here's a", "got a", "a")
)
FIRST_YEAR, LAST_YEAR = 1900, 2039
_YEARS = 1950, LAST_YEAR
"""Bare numbers that are years sooner than distances: *two thousand and fifteen on it*."""
_LEAST = 100
"""The least distance on a clock."""


def _year(row: list[Figure], words: list[str]) -> tuple[int, bool, int] | None:
    """A model year: its value, whether it was said in full, and its first token."""
    value = join(row)
    first = row[0].start
    if value is None or any(f.form not in ("whole", "zeroed") for f in row):
        return None
    if FIRST_YEAR < value <= LAST_YEAR and value == int(value):
        return int(value), True, first
    if len(row) == 1 and value < 100:
        if value < 10 and first and words[first - 1] in ("oh", "o"):
            return 2000 + int(value), False, first - 1
        if row[0].form == "zeroed" or 10 <= value <= 30:
            return 2000 + int(value), False, first
        if value >= 40:
            return 1900 + int(value), False, first
    return None


_NEXT_CLAUSE = frozenset(("and", "that", "which", "with", "it", "he", "she", "they", "but", "so", "who"))


def _known(notes: Notes) -> set[int]:
    """Tokens that the vocabulary knows as part of the trade."""
    known: set[int] = set()
    things: list[Term] = notes.scratch.get("terms", [])  # type: ignore[assignment]
    for term in (*things, *deeds(notes)):
        known.update(range(*term.at))
    return known


def _is_name(notes: Notes, i: int, known: set[int], first: bool = False) -> bool:
    """Whether token ``i`` may be a make or model; only the ``first`` of a name may follow punctuation."""
    if i >= len(notes.words) or (i in notes.marks and not first):
        return False
    word = notes.words[i]
    if not _NAME.fullmatch(word) or word in COMMON or word in STARTS or is_number(word) or word in PLURALS:
        return False
    if DRIVES.at(notes.words, i) or KINDS.at(notes.words, i):
        return False  # "it is ten torx twenty"
    return i not in known or _capital(notes, i)


def _capital(notes: Notes, i: int) -> bool:
    return notes.heard[notes.source[i][0]].isupper()


def _model(notes: Notes, found: Figures, i: int, known: set[int]) -> tuple[str, int]:
    """The model from token ``i`` and where it ends: a word, more if capitalized, a number after it."""
    parts: list[str] = []
    end = i
    while _is_name(notes, end, known) and (
        not parts or (len(parts) < 3 and (_capital(notes, end) or _last_of_name(notes, end)))
    ):
        parts.append(notes.words[end].title())
        end += 1
    letter = notes.words[end] if end < len(notes.words) and end not in notes.marks and not parts else ""
    coded = found.starting.get(end + 1) if _is_coded(letter) else None
    if coded and coded.whole and end + 1 not in notes.marks:
        return f"{letter.upper()}{coded.value:.0f}", coded.end  # "e eighteen"
    row = found.run(end, notes.marks) if end not in notes.marks else []
    number = join(row) if row else None
    a_year = number is not None and 1950 <= number <= LAST_YEAR
    if number and number == int(number) and 20 <= number <= 9999 and not a_year:
        after = row[-1].end
        follows = notes.words[after] if after < len(notes.words) and after not in notes.marks else ""
        counts = follows not in COMMON and (follows.endswith("s") or bool(parts)) and bool(follows)
        if not counts and not unit_at(notes.words, after, clinging=True, part=False):
            parts.append(str(int(number)))
            end = after
    return " ".join(parts), end


def _is_coded(letters: str) -> bool:
    """Letters that a number completes to a model: *e eighteen*, *gl fifty*."""
    return (
        letters.isalpha() and letters.isascii() and len(letters) <= 2 and letters not in COMMON | {"a", "i"}
    )


def _last_of_name(notes: Notes, i: int) -> bool:
    """Whether a second word of a model ends its clause: *a twenty ten delacroy bayou hauler and ...*."""
    after = i + 1
    return after == len(notes.words) or after in notes.marks or notes.words[after] in _NEXT_CLAUSE


def _vehicles(notes: Notes, found: Figures) -> None:
    known: set[int] | None = None
    done = 0
    for figure in found.all:
        if figure.start < done:
            continue
        row = found.run(figure.start, notes.marks)
        done = row[-1].end
        year = _year(row, notes.words)
        if year and notes.words[done : done + 1] == ["plate"]:
            done += 1  # "a sixteen plate kelburn drover"
        if year is None or done >= len(notes.words) or done in notes.marks:
            continue
        if not year[1] and year[2] and notes.words[year[2] - 1] not in _OPENS:
            continue  # "going down to eighty company limit is"
        if not _is_name(notes, done, set()):
            continue  # whatever the trade knows
        known = _known(notes) if known is None else known
        if not _is_name(notes, done, known):
            continue
        model, end = _model(notes, found, done + 1, known)
        if year[1] and not model and _like_a_part(notes, done, known):
            model, end = notes.words[done + 1].title(), done + 2
        if not model and not (year[1] and _introduced(notes, year[2])):
            continue
        at = (year[2], end)
        rule = "vehicle.year" if year[1] else "vehicle.short"
        make = notes.words[done].title()
        notes.entities.append(
            Vehicle(span=notes.span(*at), at=at, rule=rule, year=year[0], make=make, model=model or None)
        )
        return


def _like_a_part(notes: Notes, i: int, known: set[int]) -> bool:
    """Whether a strange make is followed by a model that is also a part's name (*balangay lifter*)."""
    named = _is_name(notes, i + 1, set()) and not MACHINES.at(notes.words, i + 1)
    return named and _strange(notes, i, known)


_GAUGED = frozenset(("gauge", "gauges", "tach", "tacho", "tachometer"))
"""Where one of these is on the machine a large number is no distance (*tach on her says 13,400*)."""
_OPENS = frozenset("a an the this that is 's was my his her our own old oh right he it here".split())
"""Words before a year of two figures."""


def _introduced(notes: Notes, start: int) -> bool:
    """Whether a machine named by its make alone is introduced: *a two thousand six kelso*."""
    return start == 0 or notes.words[start - 1] in ("a", "an", "the", "this", "old", "my", "his", "her", "'s")


def _named(notes: Notes) -> None:
    """*It's a Halden Crest*: two capitalized unknown words after an introduction."""
    if notes.heard.islower() or notes.heard.isupper() or not notes.heard:
        return
    for i in [i for i, word in enumerate(notes.words[:-2]) if word in _INTRODUCED.starts]:
        hit = _INTRODUCED.at(notes.words, i)
        if hit is None or not (hit[0] + 1 < len(notes.words)):
            continue
        start, known = hit[0], _known(notes)
        if all(_is_name(notes, j, known) and _capital(notes, j) for j in (start, start + 1)):
            model, end = _model(notes, Figures([], {}), start + 1, known)
            at = (start, end)
            make = notes.words[start].title()
            notes.entities.append(
                Vehicle(span=notes.span(*at), at=at, rule="vehicle.named", year=None, make=make, model=model)
            )
            return


@cache
def _everyday() -> frozenset[str]:
    """Every word that any grammar holds: what is none of them may be a name."""
    words: set[str] = set(COMMON)
    for path in GRAMMARS.rglob("*.toml"):
        for line in path.read_text(encoding="utf-8").lower().splitlines():
            if not line.startswith(_ABOUT):  # examples name machines
                words.update(_WORD.findall(line))
    return frozenset(words)


def _strange(notes: Notes, i: int, known: set[int], first: bool = False) -> bool:
    """Whether a token is a word that no grammar knows in any form."""
    if not _is_name(notes, i, known, first):
        return False
    word, everyday = notes.words[i], _everyday()
    stems = {
        word,
        word.removesuffix("s"),
        word.removesuffix("ed"),
        word.removesuffix("ing"),
        word.removesuffix("er"),
    }
    stems |= {
        word.removesuffix("es"),
        word.removesuffix("d"),
        word.removesuffix("ly"),
        word.removesuffix("y"),
    }
    return stems.isdisjoint(everyday) and f"{word.removesuffix('ing')}e" not in everyday


def name_without_year(notes: Notes) -> None:
    """*the penroy torrid pressure washer*, *banorro carpa two thousand nineteen*; for opening words only."""
    known, found = _known(notes), figures_of(notes)
    for i in range(len(notes.words)):
        if not _strange(notes, i, known, first=True):
            continue
        model, end = _model(notes, found, i + 1, known)
        if model and not model[0].isdigit() and not _strange(notes, i + 1, known):
            continue
        year, last = _later_year(notes, found, end)
        before = notes.words[max(0, i - 2) : i]
        told = (
            len(before) == 2
            and (
                before[1] in ("a", "an")
                or (before[1] == "old" and before[0] in ("the", "my", "his", "her", "our"))
            )
            and before[0] in ("is", "'s", "got", "have", "the", "my", "his", "her", "our")
        )
        told = told and _strange(notes, i + 1, known)
        named = told or year is not None or MACHINES.at(notes.words, end) is not None
        counted = (
            model.isdigit() and i > 0 and notes.words[i - 1] in ("a", "the", "this", "'s", "my", "his", "her")
        )
        if not model or not (named or counted):
            continue
        at, make = (i, last), notes.words[i].title()
        rule = "vehicle.machine" if year is None else "vehicle.later"
        notes.entities.append(
            Vehicle(span=notes.span(*at), at=at, rule=rule, year=year, make=make, model=model)
        )
        return


def _later_year(notes: Notes, found: Figures, i: int) -> tuple[int | None, int]:
    """A year said after the model (*from 2021*), and where it ends."""
    start = i + (notes.words[i : i + 1] == ["from"])
    row = found.run(start, notes.marks)
    year = _year(row, notes.words) if row else None
    return (year[0], row[-1].end) if year and year[1] else (None, i)


# ------------------------------------------------------------------ odometer


def _odometer(notes: Notes, found: Figures) -> None:
    words = notes.words
    if len(found.all) == 1 and found.all[0].value < _LEAST:
        return
    cued = _CUES.first(words) is not None
    taken = notes.taken()
    done = 0
    for figure in found.all:
        if figure.start < done or taken[figure.start]:
            continue
        row = found.run(figure.start, notes.marks)
        done = row[-1].end
        value = join(row)
        if value is None or value != int(value) or not _LEAST <= value < 3_000_000:
            continue
        hit = unit_at(words, done, clinging=figure.written, part=False)
        unit = hit.unit.symbol if hit and hit.unit.symbol in ("mi", "km") else None
        if hit and hit.unit.choose == "kay":
            unit = "km" if cued or value >= 1000 else None
        if hit and unit is None:
            continue
        least = 1000 if not _RUN.isdisjoint(words) else 5000
        large = (
            unit is not None
            and value >= least
            and (_is_exact(value) or _AGAINST.isdisjoint(_around(notes, figure.start, hit)))
        )
        bare = unit is None and cued and value >= 1000 and _stands_alone(notes, done)
        bare = bare and _GAUGED.isdisjoint(words) and not _YEARS[0] <= value <= _YEARS[1]
        if not (large or bare or (cued and unit)):
            continue
        at = (figure.start, hit.end if hit else done)
        rule = "odometer.cue" if cued else "odometer.large"
        rule = rule if unit else "odometer.unsaid"
        notes.entities.append(
            Odometer(span=notes.span(*at), at=at, rule=rule, value=int(value), unit=unit or "mi")
        )
        return


def _is_exact(value: float) -> bool:
    """Whether a distance is too great and too exact for an interval: *nine hundred eighty one thousand*."""
    return value >= 50_000 and value % 5000 != 0


def _around(notes: Notes, start: int, hit: UnitHit | None) -> list[str]:
    """The six words before a distance and two behind it."""
    return notes.words[max(0, start - 6) : start] + _behind(notes, hit)


def _behind(notes: Notes, hit: UnitHit | None) -> list[str]:
    """The two words after a distance, up to punctuation."""
    if hit is None:
        return []
    stop = next((i for i in range(hit.end, hit.end + 2) if i in notes.marks), hit.end + 2)
    return notes.words[hit.end : stop]


def _stands_alone(notes: Notes, end: int) -> bool:
    after = notes.words[end] if end < len(notes.words) else ""
    return not after or end in notes.marks or after in COMMON


@stage("vehicle")
def vehicle_stage(notes: Notes) -> None:
    """Pipeline stage: the vehicle named and its odometer. A distance unit left unsaid is supplied later."""
    found = figures_of(notes)
    if found.all:
        _vehicles(notes, found)
        _odometer(notes, found)
    if Vehicle in map(type, notes.entities):
        return
    _named(notes)
    if found.all or MACHINES.first(notes.words):
        notes.scratch["unnamed"] = True
