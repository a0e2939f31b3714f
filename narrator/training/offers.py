"""Words that a shop says and the vocabulary lacks, offered with how often and where they were heard.

Three sources: parts, tools and materials that records name and no list holds as a whole; words that are
neither of the trade nor English; and what people wrote in place of what was heard. Nothing is added here:
a person picks from the offers (``narrator vocabulary add``).
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from itertools import groupby
from typing import Any

from narrator.language.inflection import singular
from narrator.language.repair import repairer
from narrator.language.slips import UNKNOWN
from narrator.language.tokens import split_words
from narrator.language.vocabulary import vocabulary
from narrator.store import Reader

KINDS = ("component", "tool", "material")
WORD = "word"
"""Kind of an offer of which nobody knows yet what it names."""
LEAST = 2
"""Jobs in which a word must have been heard to be offered; one correction is enough."""
_STRETCH = 4
"""Words of a correction beyond which a line was worded anew and no name mended."""


@dataclass(slots=True)
class Offer:
    """A name that could be added.

    ``jobs`` it was heard in, ``times`` in all; ``corrected`` counts the corrections that wrote it, ``heard``
    what stood there before, with how often. The example is the first line that has it.
    """

    name: str
    kind: str
    jobs: int = 0
    times: int = 0
    corrected: int = 0
    heard: dict[str, int] = field(default_factory=dict)
    session: str = ""
    utterance: int = 0
    example: str = ""


@dataclass(frozen=True, slots=True)
class _Seen:
    name: str
    kind: str
    row: dict[str, Any]


def offers(reader: Reader, least: int = LEAST) -> list[Offer]:
    """What could be added, the most often corrected first, then what was heard in most jobs."""
    found: dict[tuple[str, str], Offer] = {}
    lacking = _Lacking()
    for (session, *_), text in reader.records(sorted(reader.digests())):
        _count(found, session, list(lacking.in_record(json.loads(text))))
    for session in reader.corrected():
        facts = reader.facts(session)
        heard = {one.id: one.text for one in facts.utterances}
        latest = {one.utterance: one.text for one in facts.corrections}
        stored = reader.record(session)
        rows = {r["id"]: r for r in _lines(json.loads(stored.text) if stored else {})}
        for ident, better in latest.items():
            for was, name, kind in lacking.in_correction(heard[ident], better, rows.get(ident, {})):
                offer = found.setdefault((name, kind), Offer(name, kind))
                offer.corrected += 1
                offer.heard[was] = offer.heard.get(was, 0) + 1
                _example(offer, session, ident, better)
    chosen = [offer for offer in found.values() if offer.corrected or offer.jobs >= least]
    return sorted(chosen, key=lambda o: (-o.corrected, -o.jobs, -o.times, o.name, o.kind))


def _count(found: dict[tuple[str, str], Offer], session: str, seen: list[_Seen]) -> None:
    for one in seen:
        offer = found.setdefault((one.name, one.kind), Offer(one.name, one.kind))
        offer.times += 1
        _example(offer, session, int(one.row.get("id", 0)), str(one.row.get("clean", "")))
    for key in {(one.name, one.kind) for one in seen}:
        found[key].jobs += 1


def _example(offer: Offer, session: str, utterance: int, line: str) -> None:
    if not offer.session:
        offer.session, offer.utterance, offer.example = session, utterance, line


def _lines(record: dict[str, Any]) -> Iterator[dict[str, Any]]:
    rows = record.get("utterances") or ()
    return (row for row in rows if not row.get("struck") and row.get("acts") != ["aside"])


class _Lacking:
    """Tells what of a record or a correction the vocabulary in force does not hold."""

    def __init__(self) -> None:
        self._known = vocabulary(fresh=True)
        self._state = repairer().guesser.state
        self._listed: dict[str, bool] = {}

    def in_record(self, record: dict[str, Any]) -> Iterator[_Seen]:
        """Every name and every unknown word of a record that is not listed, as often as it is said."""
        vehicle = record.get("vehicle") or {}
        made = {w for key in ("make", "model") for w in str(vehicle.get(key) or "").lower().split()}
        for row in _lines(record):
            for entity in row.get("entities") or ():
                name, kind = str(entity.get("name") or ""), entity.get("type")
                if name and kind in KINDS and not self._is_listed(name):
                    yield _Seen(name, kind, row)
            words = _words(str(row.get("clean") or ""))
            for name, kind, _ in self._unknown(words, row, made):
                yield _Seen(name, kind, row)

    def in_correction(self, heard: str, better: str, row: dict[str, Any]) -> Iterator[tuple[str, str, str]]:
        """What was heard, what was written in its place, and its kind; only names and unknown words."""
        before, after = _words(heard), _words(better)
        names = [*self._unknown(after, row, set()), *_named(after, row)]
        for how, a, b, c, d in SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
            if how != "replace" or max(b - a, d - c) > _STRETCH:
                continue
            for name, kind, at in names:
                if at.start < d and c < at.stop:
                    was = [*after[at.start : c], *before[a:b], *after[d : at.stop]]
                    if len(was) > 1 or self._state(was[0]) == UNKNOWN:  # a common word alone stays itself
                        yield " ".join(was), name, kind
                    break

    def _unknown(
        self, words: list[str], row: dict[str, Any], made: set[str]
    ) -> Iterator[tuple[str, str, range]]:
        """Runs of unknown words with their places; a thing named right after belongs to them."""
        named = _named(words, row)
        inside = {n for _, _, at in named for n in at}
        odd = [
            n not in inside and word not in made and self._state(word) == UNKNOWN
            for n, word in enumerate(words)
        ]
        for odd_run, places in groupby(range(len(words)), key=odd.__getitem__):
            at = list(places)
            if odd_run:
                name, kind, end = " ".join(words[at[0] : at[-1] + 1]), WORD, at[-1] + 1
                for further, its, where in named:
                    if where.start == end:
                        name, kind, end = f"{name} {further}", its, where.stop
                        break
                yield name, kind, range(at[0], end)

    def _is_listed(self, name: str) -> bool:
        """Whether a list holds the whole name, or what is left of it after a corner or side.

        A lone part noun (joint, strap) is known too: names are put together of those.
        """
        if name not in self._listed:
            words = name.split()
            ways = [name] + [
                " ".join(words[n:])
                for n in range(1, len(words))
                if "position" in self._known.kinds(" ".join(words[:n]))
            ]
            self._listed[name] = any(self._known.kinds(way) for way in ways) or (
                len(words) == 1 and bool(self._known.flags.get(name, 0))
            )
        return self._listed[name]


def _named(words: list[str], row: dict[str, Any]) -> list[tuple[str, str, range]]:
    """The parts, tools and materials that a line names, with the places of their words."""
    found = []
    for entity in row.get("entities") or ():
        name, kind = str(entity.get("name") or ""), str(entity.get("type"))
        more = name.split()
        if kind in KINDS and more:
            places = (n for n in range(len(words)) if [singular(w) for w in words[n : n + len(more)]] == more)
            found += [(name, kind, range(n, n + len(more))) for n in places]
    return found


def _words(text: str) -> list[str]:
    return [word for word in split_words(text).words if word[:1].isalnum()]
