"""*Two bolts out and back in*: some that come off and go back in one breath."""

from __future__ import annotations

from narrator.job.ledger_words import ledger_words
from narrator.job.motion import Motion
from narrator.job.signs import Evidence

_W = ledger_words()
_ARTICLES = frozenset(("the", "a", "an", "its", "that", "this"))


def off_and_on(motion: Motion, end: int, *, swaps: bool) -> bool:
    """*two bolts out and back in*; with ``swaps`` also *one bolt and I swap the coils*."""
    off = next((e for e in motion.evidence if end <= e.start <= end + 3 and e.weight < 0), None)
    if off is not None and motion.words[off.end : off.end + 1] == ("and",):
        back = [e for e in motion.evidence if off.end <= e.start <= off.end + 2 and e.weight > 0]
        return any(not _is_of_other(motion, e) for e in back)
    return swaps and any(w in _W["again.swap"] for w in motion.words)


def _is_of_other(motion: Motion, e: Evidence) -> bool:
    """*Bolts out and hang the caliper up*, *nuts off and put the wheel aside*: said of a thing named next."""
    verb = motion.words[e.start] in _W["on.verbs"]
    return verb and (motion.after(e.start) in _ARTICLES or e.end in motion.nouns)
