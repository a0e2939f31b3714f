"""What the vocabulary makes of a sentence: known names, repairs, words that it does not know."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from narrator.language.repair import repair, repairer
from narrator.language.terms import find_terms
from narrator.language.tokens import split_words
from narrator.language.vocabulary import vocabulary


@dataclass(frozen=True, slots=True)
class WordCheck:
    """``known``: name, kind, standard term or ""; ``repaired``: heard, meant, rule; ``unknown``: words."""

    known: tuple[tuple[str, str, str], ...]
    repaired: tuple[tuple[str, str, str], ...]
    unknown: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain data for JSON."""
        return asdict(self)


def check_text(text: str) -> WordCheck:
    """Check a sentence against the vocabulary in force, freshly read."""
    known = vocabulary(fresh=True)
    notes = split_words(text)
    repair(notes)
    units = known.units(notes.words)
    found = find_terms(known, units, notes.marks)
    names = []
    for term in sorted(found, key=lambda one: one.at):
        if term.kind != "blocked":
            standard = known.standard(term.name)
            names.append((term.name, term.kind, " or ".join(one.term for one in standard)))
    guesser = repairer().guesser
    covered = {i for term in found for i in range(*term.at)}
    unknown = (word for i, word in enumerate(notes.words) if i not in covered and guesser.odd(word))
    return WordCheck(
        known=tuple(names),
        repaired=tuple((one.heard, one.meant, one.rule) for one in notes.repairs),
        unknown=tuple(dict.fromkeys(unknown)),
    )
