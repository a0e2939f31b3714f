"""Vocabulary phrases in an utterance, longest match first: proposals for the components after it.

``notes.scratch["terms"]`` holds the proposals as ``Term``s, ``notes.scratch["units"]`` the words with
abbreviations joined, and ``notes.scratch["nouns"]`` these in the singular. Nothing is claimed here: a term is
a name found, not yet a thing meant.
"""

from __future__ import annotations

from typing import NamedTuple

from narrator.language.inflection import singular
from narrator.language.stage import stage
from narrator.language.tokens import Notes
from narrator.language.vocabulary import Unit, Vocabulary, begins, vocabulary, walk
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
    """Propose the vocabulary phrases of an utterance."""
    known = vocabulary()
    units = known.units(notes.words)
    notes.scratch["units"] = units
    notes.scratch["nouns"] = nouns = [singular(unit[0]) for unit in units]
    notes.scratch["terms"] = _found(known, units, nouns, notes.marks)


def find_terms(known: Vocabulary, units: list[Unit], marks: dict[int, str]) -> list[Term]:
    """Longest phrases left to right, apart for things and for states and deeds; none across a mark."""
    return _found(known, units, [singular(unit[0]) for unit in units], marks)


def _found(known: Vocabulary, units: list[Unit], nouns: list[str], marks: dict[int, str]) -> list[Term]:
    words = [unit[0] for unit in units]
    found: list[Term] = []
    for trie, row in ((known.nominal, nouns), (known.predicate, words), (known.blocked, nouns)):
        free = 0
        for i in begins(trie, row):
            if i < free or (best := walk(trie, row, i)) is None:
                continue
            end, kinds = best
            if marks and any(units[k][1] in marks for k in range(i + 1, end)):
                continue
            at = (units[i][1], units[end - 1][2])
            found += [Term(at, name, kind, group, (i, end)) for kind, (name, group) in kinds.items()]
            free = end
    return found
