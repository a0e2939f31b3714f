"""People's names on the trainer's pages: shown, or hidden while others look on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from starlette.requests import Request

from narrator.training.selection import pseudonyms
from narrator.training.teaching import Cleaner

COOKIE = "narrator_names"
HIDDEN = "hidden"
_CLEANER = Cleaner(())
"""Takes out plates, VINs, phone numbers and addresses."""


@dataclass(frozen=True)
class Names:
    """Everybody who spoke in any job. Where ``hidden``, they appear as Person 1, Person 2 and so on."""

    people: list[str]
    hidden: bool

    @classmethod
    def of(cls, request: Request, people: list[str]) -> Names:
        """As this browser wants them."""
        return cls(people, request.cookies.get(COOKIE) == HIDDEN)

    @cached_property
    def _alias(self) -> dict[str, str]:
        return pseudonyms(self.people)

    def shown(self, name: str) -> str:
        """A person as the page names them."""
        return self._alias.get(name, "Somebody") if self.hidden else name

    def meant(self, shown: str) -> str:
        """The name of whom a page showed, hidden or not."""
        if shown in self._alias:
            return shown
        return next((name for name, alias in self._alias.items() if alias == shown), shown)

    @property
    def choices(self) -> list[str]:
        """Everybody as the page names them, in an order that tells nothing where names are hidden."""
        return list(self._alias.values()) if self.hidden else self.people

    def text(self, text: str) -> str:
        """What was said; where names are hidden, plates, VINs, phone numbers and addresses are out too."""
        if not self.hidden:
            return text
        return self._pattern.sub(lambda m: self._by_letters[m[0].lower()], _CLEANER.text(text))

    @cached_property
    def _by_letters(self) -> dict[str, str]:
        return {name.lower(): alias for name, alias in self._alias.items()}

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        longest = sorted(filter(None, self._by_letters), key=lambda name: (-len(name), name))
        return re.compile(rf"\b(?:{'|'.join(map(re.escape, longest)) or '(?!)'})\b", re.IGNORECASE)
