"""Numbers that were said without a unit, kept for the session's memory to settle."""

from __future__ import annotations

from dataclasses import dataclass

from narrator.language.tokens import Notes

VOLTS_MOST = 60.0
"""Above this a spoken *twelve sixty five* volts is read as 12.65."""


@dataclass(slots=True)
class Unsaid:
    """A number without a unit: tokens ``start`` to ``end``, read as it stands and with the point left out.

    ``single``: one figure; ``of``: the second of a range; ``fraction``: said as one; ``exact``: with a
    point, or one of a list. ``parts``: other readings, as several numbers.
    """

    start: int
    end: int
    value: float | None
    decimal: float | None
    range: bool = False
    single: bool = True
    of: bool = False
    fraction: bool = False
    exact: bool = False
    parts: tuple[tuple[Unsaid, ...], ...] = ()

    @property
    def inches(self) -> bool:
        """A fraction as on an inch rule."""
        return self.fraction and self.value is not None and self.value * 64 % 1 == 0

    @property
    def quarters(self) -> bool:
        """Whole inches and a quarter or a finer part, if it is a length."""
        if self.value is None or not self.single or self.exact:
            return False
        return self.value * 64 % 1 == 0 and self.value * 2 % 1 != 0

    @property
    def small(self) -> bool:
        """A single whole number below 13, as counts mostly are."""
        return (
            self.single
            and not self.exact
            and self.value is not None
            and self.value < 13
            and self.value == int(self.value)
        )


def unsaid(notes: Notes) -> list[Unsaid]:
    """The utterance's numbers without a unit."""
    found: list[Unsaid] = notes.scratch.setdefault("unsaid", [])  # type: ignore[assignment]
    return found


def word_at(notes: Notes, i: int) -> str:
    """The token ``i``, empty outside the utterance or behind punctuation."""
    return notes.words[i] if 0 <= i < len(notes.words) and i not in notes.marks else ""
