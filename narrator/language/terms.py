"""Vocabulary phrases in an utterance, longest match first: proposals for the components after it.

``notes.scratch["terms"]`` holds the proposals as ``Term``s, ``notes.scratch["units"]`` the words with
abbreviations joined, and ``notes.scratch["nouns"]`` these in the singular. Nothing is claimed here: a term is
a name found, not yet a thing meant.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from narrator.language.inflection import singular
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.language.vocabulary import Trie, Units, Vocabulary, begins, vocabulary, walk
from narrator.values import Span


class Term(NamedTuple):
    """A listed phrase: ``at`` in tokens, ``name`` as listed, ``kind`` component, tool, fault, ...

    ``units`` are its offsets into the units, ``group`` the id of the vocabulary group it stands in.
    """

    at: Span
    name: str
    kind: str
    group: str
    units: Span


@stage("terms")
def terms(notes: Notes) -> None:
    """Propose the names of things that an utterance holds, and what is blocked."""
    known = vocabulary()
    units = known.units(notes.words)
    notes.scratch["units"] = units
    notes.scratch["nouns"] = nouns = [*map(singular, units.said)]
    notes.scratch["terms"] = _things(known, units, nouns, notes.marks)


def deeds(notes: Notes) -> list[Term]:
    """The names of states and deeds in an utterance, which few ask for."""
    known = vocabulary()
    units = known.units(notes.words)
    return _found(known.predicate, units.said, units, notes.marks)


def find_terms(known: Vocabulary, units: Units, marks: dict[int, str]) -> list[Term]:
    """Longest phrases left to right, apart for things and for states and deeds; none across a mark."""
    things = _things(known, units, [*map(singular, units.said)], marks)
    return [*things, *_found(known.predicate, units.said, units, marks)]


def _things(known: Vocabulary, units: Units, nouns: list[str], marks: dict[int, str]) -> list[Term]:
    """What is listed under the words of the units in the singular."""
    return _found(known.nominal, nouns, units, marks) + _found(known.blocked, nouns, units, marks)


def _found(trie: Trie, words: Sequence[str], units: Units, marks: dict[int, str]) -> list[Term]:
    found: list[Term] = []
    free = 0
    starts, ends = units.starts, units.ends
    for i in begins(trie, words):
        if i < free or (best := walk(trie, words, i)) is None:
            continue
        end, kinds = best
        if marks and any(starts[k] in marks for k in range(i + 1, end)):
            continue
        at, place = (starts[i], ends[end - 1]), (i, end)
        for kind, (name, group) in kinds.items():
            found.append(Term(at, name, kind, group, place))
        free = end
    return found
