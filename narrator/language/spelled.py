"""Letters and figures spelled aloud: single letters, the spelling alphabets, digits said one by one."""

from __future__ import annotations

import re
from dataclasses import dataclass

from narrator.language.numberwords import DIGITS, ONES, TEENS, TENS
from narrator.language.tables import load
from narrator.language.tokens import Notes

_TABLE = load("spelling")
ALPHABET: dict[str, str] = {w: c for row in _TABLE["alphabet"] for w, c in row["letters"].items()}
SOUNDS: dict[str, str] = {w: c for row in _TABLE["sounds"] for w, c in row["letters"].items()}
SIGNS: dict[str, str] = _TABLE["signs"][0]["values"]
_DIGIT = re.compile(r"\d")
LETTERS = {chr(c): chr(c).upper() for c in range(ord("a"), ord("z") + 1)}
_FIGURE = {w: str(int(v)) for w, v in DIGITS.items()} | {"oh": "0"}
CHARS = ALPHABET | LETTERS | _FIGURE
_CALLED = frozenset(("number", "'s", "is", "number's"))
_PAIRS: dict[tuple[str, str], str] = {
    (one, two): c
    for row in _TABLE["pairs"]
    for said, c in row["letters"].items()
    for one, two in [said.split()]
}
"""Letters named by two words."""
_PAIRED = frozenset(one for one, _ in _PAIRS)
_REPEAT = {"double": 2, "triple": 3, "treble": 3}
_NO_LETTERS = frozenset(_TABLE["lists"][2]["words"])
_VOWEL = re.compile(r"[aeiouy]")
SPELLED = frozenset((*CHARS, *TEENS, *TENS, *_REPEAT))
_SPOKEN = SPELLED | SOUNDS.keys()


@dataclass(slots=True)
class Piece:
    """Characters that the tokens ``start`` to ``end`` spell. ``pair`` marks a two-digit number word."""

    start: int
    end: int
    chars: str
    pair: bool = False


def piece(notes: Notes, i: int, sounds: bool = False) -> Piece | None:
    """What token ``i`` spells (with words that belong to it), or None; ``sounds``: also *bee* for B."""
    words = notes.words
    word = words[i]
    if word in _PAIRED and i + 1 < len(words) and (char := _PAIRS.get((word, words[i + 1]))):
        return Piece(i, i + 2, char)
    if (
        word in _REPEAT
        and i + 1 < len(words)
        and (char := CHARS.get(words[i + 1]))
        and i + 1 not in notes.marks
    ):
        return Piece(i, i + 2, char * _REPEAT[word])
    if char := CHARS.get(word) or (SOUNDS.get(word) if sounds else None):
        end = i + 1
        if end + 2 < len(words) and words[end] == "as" and words[end + 1] == "in":
            end += 3
        elif end + 1 < len(words) and words[end] == "for" and words[end + 1] in ALPHABET:
            end += 2
        elif char.isdigit() and end < len(words) and words[end] == "hundred":
            return Piece(i, end + 1, char + "00", pair=True)
        return Piece(i, end, char)
    if word in TENS:
        one = ONES.get(words[i + 1]) if i + 1 < len(words) and i + 1 not in notes.marks else None
        return Piece(i, i + 1 + (one is not None), str(int(TENS[word] + (one or 0))), pair=True)
    if word in TEENS:
        return Piece(i, i + 1, str(int(TEENS[word])), pair=True)
    if word.isascii() and _DIGIT.search(word) and word.replace("-", "").replace(".", "").isalnum():
        return Piece(i, i + 1, word.upper())
    return None


def after_comma(notes: Notes, i: int) -> bool:
    """Whether a comma was written before token ``i``; among what is spelled it is no mark."""
    return "," in notes.heard[notes.source[i - 1][1] : notes.source[i][0]]


def is_article(notes: Notes, last: Piece) -> bool:
    """Whether a run's last piece is an *a* or *I* that begins what follows."""
    more = last.end < len(notes.words) and last.end not in notes.marks
    return notes.words[last.start] in ("a", "i") and last.end - last.start == 1 and more


def letters_before(notes: Notes, run: list[Piece]) -> str:
    """The two to four letters heard as one word straight before a run, else nothing."""
    i = run[0].start - 1
    if i < 0 or not 2 <= len(notes.words[i]) <= 4 or run[0].start in notes.marks:
        return ""
    heard = notes.heard[slice(*notes.source[i])]
    return heard if heard.isascii() and heard.isalpha() else ""


def no_word(letters: str, run: list[Piece]) -> bool:
    """Whether letters heard as one word make none of speech, and a row of figures stands behind them."""
    rare = _VOWEL.search(letters.lower()) is None and letters.lower() not in _NO_LETTERS
    return rare and len(run) > 2 and all(part.chars.isdigit() for part in run[:3])


def _spaced(words: list[str], i: int, marks: dict[int, str]) -> bool:
    """Whether a comma before token ``i`` only spaces letters out (*A, B, 4*)."""
    return marks[i] == "," and len(words[i]) == 1 and len(words[i - 1]) == 1


def spelled_runs(notes: Notes) -> list[list[Piece]]:
    """Stretches of spelled characters, at least three tokens or one written code long."""
    runs: list[list[Piece]] = []
    plain = not _DIGIT.search(notes.heard)
    words, marks, size = notes.words, notes.marks, len(notes.words)
    i = 0
    while i < size:
        word = words[i]
        if plain and word not in _SPOKEN:
            i += 1
            continue
        sounds = word in SOUNDS and i > 0 and "number" in words[max(0, i - 3) : i] and words[i - 1] in _CALLED
        if word not in SPELLED and not sounds and (plain or not _DIGIT.search(word)):
            i += 1
            continue
        run: list[Piece] = []
        while i < size and (not run or marks.get(i) in (None, "-") or _spaced(words, i, marks)):
            if run and words[i] in SIGNS and i + 1 < size and piece(notes, i + 1, sounds):
                run.append(Piece(i, i + 1, SIGNS[words[i]]))
                i += 1
                continue
            part = piece(notes, i, sounds)
            if part is None:
                break
            run.append(part)
            i = part.end
        if run:
            runs.append(run)
        else:
            i += 1
    return runs
