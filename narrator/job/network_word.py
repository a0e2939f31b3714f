"""What the network adds to evidence of words on whether fasteners come off or go on."""

from __future__ import annotations

_FULL, _EVEN = 1.7, 0.5
"""Evidence that the network gives where it is sure, and the share up to which it gives none."""
_LITTLE = 0.7
"""Where the words come to less than this the network speaks for both ways."""
_SURE = 0.9
"""From this share on it overrules faint words of the other way."""
_BESIDE = 1.7
"""Evidence of a word right beside, which it does not overrule."""


def with_network(off: float, on: float, seen: tuple[float, float]) -> tuple[float, float]:
    """Evidence for off and for on, where the network saw shares ``seen`` of each (0 to 1).

    *Six back and two out of the box*: the word is *out*, but the network is sure that they go on.
    """
    most = max(off, on)
    if most < _LITTLE:
        told = [_FULL * max(0.0, (share - _EVEN) / (1 - _EVEN)) for share in seen]
        return max(off, told[0]), max(on, told[1])
    if most >= _BESIDE:
        return off, on
    if off > on and seen[1] >= _SURE and seen[0] <= 1 - _SURE:
        return 0.0, max(on, off)
    if on > off and seen[0] >= _SURE and seen[1] <= 1 - _SURE:
        return max(on, off), 0.0
    return off, on
