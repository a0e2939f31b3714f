"""Lines that tell nothing but what the machine is known by: its number, the distance on its clock."""

from __future__ import annotations

from narrator.language.tokens import Notes

_SAID_WITH = {
    "vin": frozenset("v i n vin number is it it's 's the and".split()),
    "odometer": frozenset(
        "the a and with so it its it's 's is that that's there's has got had done run covered shows"
        " showing says reads reading at on off of about around just only nearly almost over now"
        " currently clock dash odometer odometer's odo mileage mileage's kilometrage speedo miles"
        " kilometres kilometers far she she's he he's her him well okay right um uh".split()
    ),
}
"""Words with which a vehicle's number is told, or the distance on its clock, and nothing else."""


def is_bare(notes: Notes, *kinds: str) -> bool:
    """Whether a line tells nothing but what the machine is known by: its ``vin``, its ``odometer``."""
    told = [e.at for e in notes.entities if e.type in kinds]
    if not told or len(told) != len(notes.entities):
        return False
    with_them = frozenset().union(*[_SAID_WITH[kind] for kind in kinds])
    inside = {i for at in told for i in range(*at)}
    return with_them.issuperset(word for i, word in enumerate(notes.words) if i not in inside)
