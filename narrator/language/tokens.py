"""Words of an utterance as spaCy tokens, and the workspace that the pipeline's components share.

A dictation engine gives case and punctuation now and then; tokens are therefore lower case, and
punctuation is kept beside them as marks, so that rules read the same words from every engine.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import lru_cache
from sys import intern
from typing import TYPE_CHECKING

from spacy.tokens import Doc

from narrator.paths import GRAMMARS
from narrator.values import Cue, Entity, Look, Repair, Span

if TYPE_CHECKING:
    from spacy.vocab import Vocab

_BOUGHT = frozenset("order ordered need needs get got bought buy quoted".split())
_SAME_WIDTH = str.maketrans({"’": "'", "‘": "'", "`": "'", "−": "-", "–": "-", "—": "-", "‑": "-", "Ω": "Ω"})

_TOKEN = re.compile(
    r"""
      [xX][ -][rR]ay(?!\w)                                 # X in the spelling alphabet
    | \d+/\d+(?![\w/])                                   # a written fraction
    | (?<![\w.])\.\d+(?=(?:[^\W\d_]{1,4})?(?![\w.-]))    # a number below one without its nought
    | \d+(?:[.,]\d+)*(?=(?:[^\W\d_]{1,4})?(?![\w-]))     # a number, a unit may cling to it
    | (?=[\w-]*\d)(?=[\w-]*[^\W\d_])[^\W_]+(?:[-.][^\W_]+)* # letters and digits mixed: a code or part number
    | \d+(?:[.,]\d+)*
    | [^\W\d_]+(?:'(?![sS]\b)[^\W\d_]+)*                    # a word; 's comes off, n't stays on
    | '[^\W\d_]+
    | [%°£$€₹₦+&/#]
    | -(?=\d)
    """,
    re.VERBOSE,
)
_RAY = re.compile("[xX] [rR]ay")
"""The one token with a space in it."""
_MARK = re.compile(r"\.{2,}|[.,;:?!…]| - |\n")
_LONG = 24
"""Pieces of so many characters are not kept: few are words."""
_NO_MARK = frozenset(("", " "))
"""What mostly stands between two words, and is not looked through."""


_DIGITS = frozenset("oh zero nought one two three four five six seven eight nine niner".split())
_SPELLED = frozenset("bcdefghjklmnopqrtuvwxyz")  # not a, i and the s of *18s*
_SPOKEN = _DIGITS | frozenset(
    "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen"
    " twenty thirty forty fifty sixty seventy eighty ninety".split()
)
_SPELLING = tomllib.loads((GRAMMARS / "spelling.toml").read_text(encoding="utf-8"))
_RADIO = frozenset(word for row in _SPELLING["alphabet"] for word in row["letters"])


@dataclass(slots=True)
class Notes:
    """The shared workspace of one utterance.

    ``words[i]`` stands for the heard characters ``source[i]``; ``marks`` maps a token offset to the
    punctuation before it (the offset ``len(words)`` to what ends the utterance).
    """

    heard: str
    words: list[str]
    source: list[Span]
    marks: dict[int, str] = field(default_factory=dict)
    entities: list[Entity] = field(default_factory=list)
    cues: list[Cue] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    looks: list[Look] = field(default_factory=list)
    scratch: dict[str, object] = field(default_factory=dict)

    def span(self, start: int, end: int) -> Span:
        """Heard characters of the tokens ``start`` to ``end`` (half open, at least one token)."""
        return self.source[start][0], self.source[end - 1][1]

    def taken(self) -> list[bool]:
        """Which tokens already belong to an entity."""
        mask = [False] * len(self.words)
        for entity in self.entities:
            for i in range(*entity.at):
                mask[i] = True
        return mask


if not Doc.has_extension("notes"):
    Doc.set_extension("notes", default=None)


def split_words(text: str) -> Notes:
    """Cut heard text into lower-case words with their places; never fails on any string.

    Each word is the same object wherever it is said (``sys.intern``), and in the tables that every word is
    looked up in: it is found there without a look at its letters, and takes its memory once a session.
    """
    plain = text.isascii() and "`" not in text
    even = text.lower() if plain else text.translate(_SAME_WIDTH)
    notes = Notes(text, [], [])
    words, source, last = notes.words, notes.source, 0
    begin = 0
    for piece in (even,) if "ay" in even and _RAY.search(even) else even.split(" "):
        end = begin + len(piece)
        if piece.isalpha():  # most are one word of letters, and need not be looked through
            if begin > last + 1:
                _mark(notes, even, last, begin)
            words.append(intern(piece if plain else piece.lower()))
            source.append((begin, end))
            last = end
        elif plain and end < begin + _LONG and (whole := _whole(piece)):
            if begin > last + 1:
                _mark(notes, even, last, begin)
            for word, start, stop in whole:
                words.append(word)
                source.append((begin + start, begin + stop))
            last = end
        elif piece:
            for found in _TOKEN.finditer(even, begin, end):
                start, stop = span = found.span()
                if even[last:start] not in _NO_MARK:
                    _mark(notes, even, last, start)
                words.append(intern(_word(found)))
                source.append(span)
                last = stop
        begin = end + 1
    if last < len(even):
        _mark(notes, even, last, len(even))
    if notes.marks:
        _drop_marks(notes)
    return notes


@lru_cache(maxsize=4096)
def _whole(piece: str) -> tuple[tuple[str, int, int], ...]:
    """The words that a piece without a space is all made of (*it's*) and their places; none beside a mark."""
    if " " in piece:
        return ()
    found = [(intern(_word(one)), *one.span()) for one in _TOKEN.finditer(piece)]
    return tuple(found) if sum(stop - start for _, start, stop in found) == len(piece) else ()


def _word(found: re.Match[str]) -> str:
    word = found.group().lower().replace(" ", "-")
    return word if word[0] != "." else f"0{word}"


def _mark(notes: Notes, even: str, start: int, end: int) -> None:
    """Keep the punctuation that stands between two words, if there is any."""
    if mark := _MARK.search(even, start, end):
        notes.marks[len(notes.words)] = mark.group().strip() or "-"


def _drop_marks(notes: Notes) -> None:
    """Leave out the marks that say nothing."""
    if "," in notes.marks.values():
        _drop_breaths(notes)
    if "." in notes.marks.values():
        _drop_initials(notes)


def _drop_breaths(notes: Notes) -> None:
    """A dictation engine hears a breath as a comma: *five, nineteen mil nuts*, *k, seven, seven, one*.

    Between a spoken digit or a spelled letter and a spoken number it says nothing, nor among the words of a
    spelling alphabet (*sierra victor alpha, six delta*); between figures (*2.4, 2.3*) it parts the readings
    of a list and stays, as it does in *twelve on one, eight on two*.
    """
    words = notes.words
    radio = _RADIO if sum(word in _RADIO for word in words) > 1 else frozenset()
    before, after = _DIGITS | _SPELLED | radio, _SPOKEN | _SPELLED | radio | {"dash"}
    for i in [i for i, mark in notes.marks.items() if mark == "," and 0 < i < len(words)]:
        rows = words[max(0, i - 2)] == "on" and "on" in words[i + 1 : i + 4]
        bought = words[i - 1] == "one" and words[max(0, i - 2)] in _BOUGHT  # "ordered one, thirty four fifty"
        if words[i] in after and words[i - 1] in before and not (rows or bought):
            del notes.marks[i]


def _drop_initials(notes: Notes) -> None:
    """A dictation engine writes spelled letters as initials: *part number H. C. 7740*.

    A stop between two letters says nothing, nor does one between two or more letters and a number.
    """
    words = notes.words
    for i in [i for i, mark in sorted(notes.marks.items()) if mark == "." and 0 < i < len(words)]:
        letters = [len(word) == 1 and word.isalpha() for word in words[max(0, i - 2) : i + 1]]
        number = words[i] in _SPOKEN or words[i] == "dash" or words[i][0].isdigit()
        if letters[-2:] == [True, True] or (number and letters[:-1] == [True, True]):
            del notes.marks[i]


def make_doc(vocab: Vocab, notes: Notes) -> Doc:
    """A spaCy Doc over the workspace's current words."""
    doc = Doc(vocab, words=notes.words)
    doc._.notes = notes
    return doc


class ShopTokenizer:
    """spaCy tokenizer: text to a Doc whose ``doc._.notes`` is a fresh workspace."""

    def __init__(self, vocab: Vocab) -> None:
        self.vocab = vocab

    def __call__(self, text: str) -> Doc:
        """A Doc of the lower-case words of ``text``."""
        return make_doc(self.vocab, split_words(text))
