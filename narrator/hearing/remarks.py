"""Where one remark ends and the next begins within one piece of sound.

The segmenter cuts where nobody speaks for a while. Behind a radio or other people's talk nothing is ever
quiet, and who is in a hurry leaves short pauses: then a piece holds several remarks, and what is understood
of one is mixed up with the next. The words tell them apart: a pause between two words counts by its length,
a short one only where the trade's language has an end there and a beginning behind it. *Four ... fourteen mil
bolts* is one remark however long the search for the word took.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from narrator.hearing.language_model import END, START, LanguageModel
from narrator.hearing.spoken import in_words, numeric
from narrator.paths import GRAMMARS
from narrator.values import Word

LONG_S = 0.8
"""So long a pause between two words ends a remark: the segmenter's, and what words lack of it, as they end a
little before the sound does. ..."""
_SEVERAL_S = 6.0
"""... In a piece as long as this, ..."""
_SHORT_S = 0.25
"""... a shorter one than this does not, ..."""
_GAIN, _PER_SECOND = 1.0, 10.0
"""... and one in between does where an end and a beginning are likelier there than that it goes on, by so
much (log) less what the pause is worth (chosen by measurement, docs/measurements/hearing.md)."""


def marked(words: Sequence[Word], language: LanguageModel) -> list[Word]:
    """The words of a long piece, those told as last behind which a remark ends though the pause is short;
    their times have to be measured ones."""
    out = list(words)
    if not words or words[-1].end - words[0].start < _SEVERAL_S:
        return out
    said = [in_words(word.word.strip(".,;:!?")).lower().split() for word in words]
    for n, (one, other) in enumerate(pairwise(words)):
        pause = other.start - one.end
        if not _SHORT_S <= pause < LONG_S:
            continue
        before, after = _flat(said[max(0, n - 2) : n + 1]), _flat(said[n + 1 : n + 4])
        if _parts(language, before, after, pause):
            out[n] = replace(one, last=True)
    return out


def _parts(language: LanguageModel, before: Sequence[str], after: Sequence[str], pause: float) -> bool:
    """Whether a short pause ends a remark; never between numbers, nor behind a word that needs another."""
    if not before or not after or before[-1] in _words("open"):
        return False
    if numeric(after[0]) and (numeric(before[-1]) or before[-1] in _words("taken_back")):
        return False
    return gain(language, before, after) >= _GAIN - _PER_SECOND * pause


@lru_cache(maxsize=2)
def _words(name: str) -> frozenset[str]:
    table = tomllib.loads((GRAMMARS / "hearing" / "remarks.toml").read_text(encoding="utf-8"))
    return frozenset(table[name].split())


def gain(language: LanguageModel, before: Sequence[str], after: Sequence[str]) -> float:
    """How much likelier an end and a beginning are between some words than that it goes on (log)."""
    history = tuple(before[-2:]) if len(before) > 1 else (START, *before)
    ended = language.after(history, END) + _follow(language, (START,), after[:2])
    return ended - _follow(language, history, after[:2])


def _follow(language: LanguageModel, history: tuple[str, ...], words: Sequence[str]) -> float:
    """Log probability of words behind others."""
    total = 0.0
    for word in words:
        total += language.after(history, word)
        history = (*history, word)[-2:]
    return total


def remarks(words: Sequence[Word], *, measured: bool, whole: bool = False) -> list[list[Word]]:
    """The words cut behind those told as last, unless they are to stay ``whole``, and where their times are
    ``measured`` ones at long pauses."""
    cuts = [
        n
        for n, (one, other) in enumerate(pairwise(words), 1)
        if (one.last and not whole) or (measured and other.start - one.end >= LONG_S)
    ]
    kept = [replace(word, last=False) if word.last else word for word in words]
    return [kept[start:end] for start, end in pairwise([0, *cuts, len(words)])]


def _flat(rows: Sequence[Sequence[str]]) -> list[str]:
    return [word for row in rows for word in row]
