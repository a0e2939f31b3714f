"""When two spoken names mean the same thing: *the relay*, *the fuel pump relay*, *the master*.

Names are canonical component names (lower case, singular). A longer name may be shortened to its last
noun or to its first words; a shorter name never stands for two things that are both on the table, so
callers rank candidates with ``likeness`` and take the best.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from narrator import phonetics
from narrator.job.suspect_words import alike, suspect_words

SAME = 0.7
"""Likeness from which two names mean one thing."""
_EMPTY = frozenset(
    "the a an of on in old new other same one"
    " front rear left right upper lower inner outer nearside offside".split()
)

_ALIKE = alike()
"""Names of one thing that stay apart in the vocabulary but not on the suspects' table."""

_OWN = suspect_words()["names.own"]
"""First words of a name that are a thing of their own: the tank is not the tank cap."""

_OPPOSITE = tuple(
    frozenset(pair.split("|"))
    for pair in ("upper|lower", "left|right", "front|rear", "inner|outer", "nearside|offside")
)
"""Places of which a thing has one: the upper pin is not the lower one."""

_PLACES = frozenset().union(*_OPPOSITE)

SIDES = (*_OPPOSITE, frozenset(("driver", "passenger")))
"""Sides of a machine as well."""


@dataclass(frozen=True, slots=True)
class _Name:
    """One name taken apart, once: ledgers compare the same names over and over."""

    core: tuple[str, ...]
    """Its words that carry meaning, those of one thing written alike."""
    places: frozenset[str]
    """Words of it that tell one of two places."""


@lru_cache(maxsize=20_000)
def _apart(name: str) -> _Name:
    core = tuple(_ALIKE.get(w, w) for w in words(name))
    return _Name(core, _PLACES.intersection(name.split()))


def words(name: str) -> tuple[str, ...]:
    """The words of a name that carry meaning (all of them where none would be left)."""
    every = tuple(name.split())
    return tuple(w for w in every if w not in _EMPTY) or every


def opposite(said: str, known: str) -> bool:
    """Whether two names are of opposite places: *the left bearing* and *the right bearing*."""
    differ = _apart(said).places ^ _apart(known).places
    return len(differ) > 1 and any(pair <= differ for pair in _OPPOSITE)


class Sharers:
    """Which of some numbered things a name may fit: those with a name that has a word of it.

    Names without a common word are never alike (``likeness`` is 0): a long session need not try a name on all
    that was ever named.
    """

    def __init__(self) -> None:
        self._by_word: dict[str, list[int]] = {}

    def enter(self, name: str, number: int) -> None:
        """Keep that the thing of this number has this name."""
        for word in _apart(name).core:
            self._by_word.setdefault(word, []).append(number)

    def of(self, name: str) -> list[int]:
        """The numbers of all that a name may fit, in order, each once."""
        found = [self._by_word[word] for word in _apart(name).core if word in self._by_word]
        return sorted(set().union(*found))


_ALONE, _BESIDE, _LETTERS = 0.8, 0.7, 0.8
"""Likeness in sound from which two names are one: of whole names, and of a word beside the same words.

The third is the least in letters.
"""


@lru_cache(maxsize=20_000)
def sounds_like(heard: str, known: str) -> bool:
    """Whether a name that no list holds is how a known one was heard: *flex he*, *crush drive*, *hydra*."""
    one, other = words(heard), words(known)
    if len(one) != len(other):
        return _sound("".join(one), "".join(other)) >= _ALONE
    apart = [(a, b) for a, b in zip(one, other, strict=True) if a != b]
    least = _ALONE if len(apart) == len(one) else _BESIDE
    return len(apart) == 1 and _sound(*apart[0]) >= least


def _sound(heard: str, known: str) -> float:
    """How alike two words are in sound, 0 to 1; 0 where their letters are too far apart (*cup*, *cap*)."""
    return phonetics.likeness(heard, known) if phonetics.letters(heard, known) >= _LETTERS else 0.0


@lru_cache(maxsize=50_000)
def likeness(said: str, known: str) -> float:
    """How well a spoken name fits a known one: 1 equal, 0 unrelated.

    The last noun decides: *relay* fits *fuel pump relay* (0.8); *master* fits *master cylinder* (0.7);
    *fuel pump* fits *fuel pump relay* only weakly (0.45), as the pump is a thing of its own, and so does
    *relay socket* fit *relay*, and *tank* fit *tank cap*.
    """
    if said == known:
        return 1.0
    a, b = _apart(said).core, _apart(known).core
    if opposite(said, known):
        return 0.0
    if a == b:
        return 0.95
    short, long = (a, b) if len(a) <= len(b) else (b, a)
    if len(short) == len(long):
        return 0.6 if len(a) > 1 and a[-1] == b[-1] and set(a) & set(b) != {a[-1]} else 0.0
    if long[-len(short) :] == short:
        return 0.8
    if set(short) <= set(long) and short[-1] == long[-1]:
        return 0.75
    if short is a and set(short) <= set(long[1:]):
        return 0.45  # *the cylinder* for the lift cylinder seal
    if long[: len(short)] == short:
        alone = len(short) == 1 and short is a and short[0] not in _OWN
        return 0.7 if alone else 0.45
    return 0.0
