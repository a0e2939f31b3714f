"""Words and phrases of what a reading should be, and whether it is (``grammars/outcome.toml``)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, product

from narrator.job.line import Line
from narrator.job.outcome_words import outcome_words

_WHO = ("", "i", "you", "we", "they", "it", "he", "she")
_DENIED = 3
"""So many words at most before what is said of a bad thing, a *not* denies it."""

_Opening = dict[str, dict[str, list[tuple[str, ...]]]]
"""First word to second word to what follows these in each phrase that they open.

Under no second word stands what follows the first alone, where that is nothing, any word or the end.
"""


@dataclass(frozen=True, slots=True)
class Words:
    """Word sets and phrases of the file; a phrase is a tuple of words."""

    sets: dict[str, frozenset[str]]
    opening: dict[str, _Opening]


@lru_cache(maxsize=1)
def expected_words() -> Words:
    """The table ``expected``."""
    table = outcome_words()["expected"]
    sets = {k: frozenset(v.split()) for k, v in table.items() if isinstance(v, str)}
    sets["about"] = frozenset(table["about"])
    sets["negation"] = frozenset(outcome_words()["negation"]["words"].split())
    opening = {k: _opened(v) for k, v in table.items() if isinstance(v, list) and k != "about"}
    return Words(sets, opening)


def _opened(phrases: Sequence[str]) -> _Opening:
    """Phrases of the file by their first two words."""
    found: _Opening = {}
    for first, *rest in (one for phrase in phrases for one in _spoken(phrase)):
        second = rest[0] if rest and rest[0] not in ("*", "$") else ""
        found.setdefault(first, {}).setdefault(second, []).append(tuple(rest[1:] if second else rest))
    return found


_ANY = [["*"] * many for many in range(6)]


def _spoken(phrase: str) -> list[tuple[str, ...]]:
    """The words of a phrase as the program parts them: *what's* is *what 's*, and *'d want* is *i'd want*;
    *in|on spec* are two phrases. ``*5`` is up to five words of any kind."""
    told = [
        _ANY if word == "*5" else [one.replace("'s", " 's").split() for one in word.split("|")]
        for word in phrase.split()
    ]
    if told[0] == [["'d"]]:
        told[0] = [[f"{who}'d"] for who in _WHO]
    return [tuple(chain.from_iterable(words)) for words in product(*told)]


def is_missed(line: Line) -> bool:
    """*Both low*, *so the discs are scrap*, *pads needed*; but not *nothing is needed*, *isn't scrap yet*."""
    words, tokens = expected_words(), line.tokens
    opening, denied = words.opening["missed"], words.sets["negation"]
    at = [i for i, word in enumerate(tokens) if word in opening and opens(tokens, i, opening)]
    return any(denied.isdisjoint(tokens[max(0, i - _DENIED) : i]) for i in at)


def has_phrase(tokens: Sequence[str], name: str) -> bool:
    """Whether one of the phrases of this name stands in these words; ``*`` is any one word, ``$`` the end."""
    opening = expected_words().opening[name]
    if opening.keys().isdisjoint(tokens):
        return False
    for i, word in enumerate(tokens):  # noqa: SIM110 - asked of every line, and a generator takes longer
        if word in opening and opens(tokens, i, opening):
            return True
    return False


def opens(tokens: Sequence[str], i: int, opening: _Opening) -> bool:
    """Whether one of these phrases begins at token ``i``."""
    by_second = opening.get(tokens[i]) if i < len(tokens) else None
    if by_second is None:
        return False
    for phrase in by_second.get("", ()):
        if not phrase or _at(tokens, i + 1, phrase):
            return True
    longer = by_second.get(tokens[i + 1], ()) if i + 1 < len(tokens) else ()
    return any(not phrase or _at(tokens, i + 2, phrase) for phrase in longer) if longer else False


def _at(tokens: Sequence[str], i: int, phrase: tuple[str, ...]) -> bool:
    for k, want in enumerate(phrase):
        here = tokens[i + k] if i + k < len(tokens) else "$"
        if here != want and not (want == "*" and here != "$"):
            return False
    return True
