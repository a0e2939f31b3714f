"""What a check after the repair gave, said in plain words: *never cut out*, *code came straight back*.

The model of outcomes weighs words one by one, and what is denied weighs as much as what is not.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import lru_cache
from itertools import pairwise

from narrator.job.outcome_words import outcome_words
from narrator.phrases import Phrases

_FAR = 4
"""So many words behind *still no* tell what there is none of."""
_REACH = 3
"""So many words a denial or a *still* reaches on to what the machine did."""


@lru_cache(maxsize=1)
def _words() -> dict[str, frozenset[str]]:
    sets = {name: frozenset(said.split()) for name, said in outcome_words()["plain"].items()}
    told = (sets[name] for name in ("returned", "seen", "gone", "faults"))
    return sets | {"telling": frozenset(("still",)).union(*told)}


@lru_cache(maxsize=1)
def _phrases() -> Phrases[bool]:
    """Each with whether it tells that all went well."""
    table = outcome_words()["phrases"]
    return Phrases((phrase, name == "good") for name in ("good", "bad") for phrase in table[name])


def plainly(tokens: Sequence[str], breaks: Collection[int] = ()) -> bool | None:
    """Whether words say that a check went well; None where they do not say so, or say both.

    ``breaks`` are the tokens before which something was marked off.
    """
    tokens, words, named = tuple(tokens), _words(), -1
    found: set[bool | None] = {well for _, _, well in _phrases().all(tokens)}
    for i in reversed(range(len(tokens))):
        if tokens[i] not in words["telling"]:
            continue
        named = named if named <= i else -1
        start = max((b for b in breaks if b <= i), default=0)
        if tokens[i] in words["returned"] and (back := _comes_back(tokens[start:i])) is not None:
            found.add(back)
            named = start  # what came back is named there: "the knock's not come back"
        elif _is_none(tokens, i, breaks) or _is_gone(tokens[start:i], tokens[i]):
            found.add(True)
        elif tokens[i] == "still" and _is_still(tokens[i + 1 :]):
            found.add(False)
        elif tokens[i] in words["faults"] and not 0 <= named <= i:
            found.add(_fault(tokens[max(start, i - _REACH) : i], tokens[i + 1 : i + 2]))
    stretches = (tokens[a:b] for a, b in pairwise(sorted({0, *breaks, len(tokens)})))
    if any("same" in stretch and words["same"].issuperset(stretch) for stretch in stretches):
        found.add(False)
    if {True, False} <= found:
        last = max((i for i, token in enumerate(tokens) if token == "but"), default=-1)
        return plainly(tokens[last + 1 :], [b - last - 1 for b in breaks]) if last >= 0 else None
    if False in found:
        return False
    return True if found == {True} else None


def _fault(before: Sequence[str], after: Sequence[str]) -> bool | None:
    """Whether a fault is denied (*never missed a beat*) or goes on (*still knocks*)."""
    words = _words()
    before = _clause(before)
    last = max((n for n, token in enumerate(before) if token in words["faults"]), default=-1)
    before = before[last + 1 :]  # "no smoke no noise"
    denials = sum(token in words["denied"] for token in before)
    if not words["lessened"].isdisjoint((*before, *after)):
        return None  # "not leaking as bad", "it doesn't just leak"
    if not words["ends"].isdisjoint(before):
        return True if denials == 0 else None  # "stopped leaking", "never stopped leaking"
    if "still" in before:
        return False if denials == 0 else None
    return True if denials == 1 else None


def _is_still(after: Sequence[str]) -> bool:
    """Whether what follows a *still* is bad: *no water*, *won't fire*, *gets hot*, but not *no leaks*."""
    words = _words()
    if after and after[0] in words["refuses"]:
        return words["none_of"].isdisjoint(after[1 : 1 + _FAR])
    said = [word for word in after[:_REACH] if word not in words["getting"]]
    return bool(said) and said[0] in words["bad"]


def _is_none(tokens: Sequence[str], i: int, breaks: Collection[int]) -> bool:
    """*Let it idle half an hour, no oil*: what should not be seen ends a clause behind a *no*."""
    ends = i + 1 in (*breaks, len(tokens))
    return ends and tokens[i] in _words()["seen"] and tokens[i - 1 : i] == ("no",)


def _is_gone(before: Sequence[str], word: str) -> bool:
    """*Noise has gone*, *the leak's stopped*, but not *the noise never stopped*."""
    words = _words()
    if word not in words["gone"]:
        return False
    before = _clause(before)
    return not words["none_of"].isdisjoint(before) and words["denied"].isdisjoint(before)


def _comes_back(before: Sequence[str]) -> bool | None:
    """*Code came straight back*, *the knock's not come back*: of what is the trouble, by its name."""
    words = _words()
    lead = _clause(before[-6:])
    came = not words["came"].isdisjoint(lead[-3:])
    cleared = came and not words["cleared"].isdisjoint(before) and not words["it"].isdisjoint(lead)
    if not cleared and (words["trouble"].isdisjoint(lead) or words["coming"].isdisjoint(lead[-3:])):
        return None
    return not words["denied"].isdisjoint(lead)


def _clause(tokens: Sequence[str]) -> Sequence[str]:
    """What of some words comes behind the last one that begins something else."""
    cut = max((n for n, token in enumerate(tokens) if token in _words()["stop"]), default=-1)
    return tokens[cut + 1 :]
