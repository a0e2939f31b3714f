"""Whether a word that may be noun or verb stands in a noun's place, from the words around it."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from typing import TYPE_CHECKING

from narrator.paths import GRAMMARS

if TYPE_CHECKING:
    from narrator.language.components import Scene


@lru_cache(maxsize=1)
def places() -> dict[str, frozenset[str]]:
    """The word sets of grammars/vocabulary/noun-place.toml by name."""
    text = (GRAMMARS / "vocabulary" / "noun-place.toml").read_text(encoding="utf-8")
    return {name: frozenset(words.split()) for name, words in tomllib.loads(text).items()}


_PLACES = places()
_DETERMINERS, _CALLS_VERB, _STARTS = _PLACES["determiners"], _PLACES["calls_verb"], _PLACES["starts"]
_OPENS_NOUN = _DETERMINERS | _PLACES["prepositions"]
_OBJECTS, _PARTICLES, _AMOUNTS = _PLACES["objects"], _PLACES["particles"], _PLACES["amounts"]
_PRONOUNS = _PLACES["pronouns"]


def bare(scene: Scene, i: int) -> bool:
    """No determiner, adjective or possessive stands before unit ``i``."""
    return i == 0 or scene.mark(i) or scene.word(i - 1) not in _DETERMINERS


def verb_place(scene: Scene, i: int) -> bool:
    """A single word that may be a verb is one here: "you plug the port", "pump it"."""
    before, after = scene.word(i - 1) if i else "", scene.word(i + 1)
    clause = i == 0 or scene.mark(i) or before in _STARTS
    if not clause and before in _OPENS_NOUN:
        return before not in _DETERMINERS and after in _PRONOUNS
    if not clause and before in _CALLS_VERB and before != "just":
        return True
    return after in _OBJECTS and not scene.mark(i + 1) and not (clause and after in _PARTICLES)


def command_place(scene: Scene, i: int) -> bool:
    """The first word of a clause or one that follows a subject: where an order stands."""
    before = scene.word(i - 1) if i else ""
    return i == 0 or scene.mark(i) or before in _STARTS or before in _CALLS_VERB


def calls_for_amount(scene: Scene, i: int) -> bool:
    """Something before a plain material says that it is meant as stuff: "fresh oil", "litres of fuel"."""
    before = scene.word(i - 1) if i else ""
    return before in scene.known.shy_after or before in _AMOUNTS
