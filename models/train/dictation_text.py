"""What the dictation should have written of each training clip, as rows of its tokens."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from models.train.clips import Clip
from narrator.hearing.spoken import in_words

_MARK = "\u2581"
_LETTER = re.compile(r"(?<![\w'])(i|[b-hj-z])\b(?!')")
_AMONG_LETTERS = re.compile(r"(?<=\b[A-Z] )a\b|\ba(?= [A-Z]\b)")


def sentence(words: str) -> str:
    """Words as a written sentence: a capital, letters and "I" as capitals, a full stop."""
    text = re.sub(r"\bi'", "I'", _LETTER.sub(lambda found: found[1].upper(), words))
    for _ in range(2):
        text = _AMONG_LETTERS.sub("A", text)
    return text[:1].upper() + text[1:] + "." if text else ""


def targets(clips: Sequence[Clip], written: Sequence[str]) -> dict[int, str]:
    """What is to be written of each clip, by its first sample.

    What the model itself wrote (``written``, of people's clips, which come first) where its words are right
    and no figures, else the words as a sentence.
    """
    found = {}
    for number, clip in enumerate(clips):
        own = written[number] if clip.human else ""
        right = bool(own) and in_words(own).split() == in_words(clip.text).split()
        keep = right and not any(c.isdigit() for c in own)
        found[clip.first] = own if keep else sentence(clip.text)
    return found


class Tokenizer:
    """Text to tokens by merging pairs, earlier tokens of the list first; what no token has goes by bytes."""

    def __init__(self, tokens: Sequence[bytes]) -> None:
        self._number = {token: i for i, token in enumerate(tokens)}  # single bytes come twice, first as bytes
        self._word = lru_cache(maxsize=100_000)(self._merged)

    def ids(self, text: str) -> list[int]:
        """Tokens of a text."""
        return [i for word in text.split() for i in self._word(word)]

    def _merged(self, word: str) -> tuple[int, ...]:
        parts = [one.encode() for one in _MARK + word]
        while True:
            pairs = [(self._number.get(a + b), i) for i, (a, b) in enumerate(pairwise(parts))]
            found = [(number, i) for number, i in pairs if number is not None]
            if not found:
                break
            _, at = min(found)
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        ids: list[int] = []
        for part in parts:
            whole = self._number.get(part)
            ids += (
                [whole] if whole is not None else [self._number[f"<0x{byte:02X}>".encode()] for byte in part]
            )
        return tuple(ids)
