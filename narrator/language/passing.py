"""How long something was waited for or how far it was driven is no reading (*give it ten minutes*).

Such a time stays in the words. It is a reading where it is held against a limit or is what was timed (*it
took fourteen minutes*); seconds always are, since nobody waits for seconds without timing them. Of some 180
minutes and hours in our annotated narrations three were wanted as readings, of 25 miles and kilometres none;
words: grammars/meaning.toml.
"""

from __future__ import annotations

from narrator.language.amounts import Amounts
from narrator.language.meaning import act_share, meaning_table
from narrator.language.tokens import Notes
from narrator.phrases import Phrases
from narrator.values import Measurement

_T = meaning_table()["passing"]
_UNITS, _BRIEF, _TIMED, _HELD = (frozenset(_T[key].split()) for key in ("units", "brief", "timed", "held"))
_QUIT = Phrases((phrase, True) for phrase in _T["quit"])
_BUILT = Phrases((phrase, True) for phrase in _T["built"])
_RATE = frozenset(("in", "for", "and"))
_NEAR, _MOSTLY = 3, 0.5


def passes(notes: Notes, entity: Measurement) -> bool:
    """Whether a measurement is of a time that passes, a distance driven, or nothing to the network."""
    if entity.unit == "turn":
        return False  # entered only where it tells how tight
    if entity.unit_said and Amounts(notes).nothing(*entity.at):
        return True
    if entity.unit == "min" and _BUILT.first(notes.words):
        return False
    before = notes.words[max(0, entity.at[0] - _NEAR) : entity.at[0]]
    if entity.unit not in _UNITS and not (entity.unit == "s" and before and before[-1] in _BRIEF):
        return False
    until = entity.unit == "min" and (not before or before[-1] not in _RATE)
    if until and _tried(notes) and _QUIT.first(notes.words):
        return False
    took = not _TIMED.isdisjoint(notes.words)
    held = not _HELD.isdisjoint(notes.words) and (took or not _other(notes))
    return _TIMED.isdisjoint(before) and not held


def _tried(notes: Notes) -> bool:
    """Whether the line tells how a test or a check of the repair came out."""
    return act_share(notes, "result") + act_share(notes, "verification") >= _MOSTLY


def _other(notes: Notes) -> bool:
    """Whether the limit is of something else that the line measures (*after ten minutes it draws 140 mA*)."""
    kept = (e for e in notes.entities if isinstance(e, Measurement))
    return any(e.quantity != "time" and e.unit not in _UNITS for e in kept)
