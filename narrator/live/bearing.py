"""Whether anything that was written bears out a command that only the ear of commands heard.

That ear knows nothing but commands, so over noise it hears one now and then in narration. Where one was said,
the dictation or the second ear's free hearing nearly always has a word that sounds like the attention phrase;
in narration hardly any line has.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from narrator.phonetics import likeness

ENOUGH = 0.70
"""How like the phrase or its longest word something written must sound (chosen by measurement,
docs/measurements/faults.md)."""
SECONDS = 0.75
"""How like it what is written must sound where the command behind it is to second the ear."""
BEFORE_FREE = 0.80
"""How like it where free words may follow the command, as they fit anything."""
_LONG = 6
"""Letters from which a word of the phrase says enough by itself."""
_JOINED = 3
"""Words that a recognizer may have made of it."""


class Bearing:
    """Compares what was written with the ways of getting attention (blanks between words)."""

    def __init__(self, attention: Sequence[str]) -> None:
        longest = [max(phrase.split(), key=len) for phrase in attention]
        signs = [phrase.replace(" ", "") for phrase in attention] + [w for w in longest if len(w) >= _LONG]
        self._signs = tuple(dict.fromkeys(signs))

    def out(self, readings: Iterable[Sequence[str]], least: float = ENOUGH) -> bool:
        """Whether one of the readings (plain words each) has something as like the phrase."""
        return any(self._has(words, least) for words in readings)

    def behind(self, words: Sequence[str]) -> list[list[str]]:
        """What follows each place that has something like the phrase."""
        ends = {
            at + n
            for at in range(len(words))
            for n in range(1, min(_JOINED, len(words) - at) + 1)
            if self._like("".join(words[at : at + n]), SECONDS)
        }
        return [list(words[end:]) for end in sorted(ends)]

    def _has(self, words: Sequence[str], least: float) -> bool:
        rows = ("".join(words[at : at + n]) for at in range(len(words)) for n in range(1, _JOINED + 1))
        return any(self._like(row, least) for row in rows)

    def _like(self, row: str, least: float) -> bool:
        return any(likeness(row, sign) >= least for sign in self._signs)
