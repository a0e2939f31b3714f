"""Pipeline stage: how long something was waited for or ran is no reading (*give it ten minutes*).

Such a time stays in the words. It is a reading where it is held against a limit or is what was timed (*it
took fourteen minutes*); seconds always are, since nobody waits for seconds without timing them. Of some 180
minutes and hours in our annotated narrations three were wanted as readings; words: grammars/meaning.toml.
"""

from __future__ import annotations

from spacy.language import Language
from spacy.tokens import Doc

from narrator.language.meaning import meaning_table
from narrator.language.tokens import Notes
from narrator.values import Entity, Measurement

_T = meaning_table()["passing"]
_UNITS, _TIMED, _HELD = (frozenset(_T[key].split()) for key in ("units", "timed", "held"))
_NEAR = 3


@Language.component("passing")
def passing(doc: Doc) -> Doc:
    """Leave out times that only pass."""
    notes: Notes = doc._.notes
    notes.entities = [e for e in notes.entities if not _passes(notes, e)]
    return doc


def _passes(notes: Notes, entity: Entity) -> bool:
    if not isinstance(entity, Measurement) or entity.quantity != "time" or entity.unit not in _UNITS:
        return False
    before = notes.words[max(0, entity.at[0] - _NEAR) : entity.at[0]]
    return _TIMED.isdisjoint(before) and _HELD.isdisjoint(notes.words)
