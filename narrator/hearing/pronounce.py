"""How words are pronounced, in the ARPAbet's 39 phones without stress: for the second ear's lexicon.

A word is looked up in CMUdict; failing that it is taken apart (plural, past, *-ing*, two words written as
one), spelled out when it has no vowel, or read letter by letter after ``grammars/hearing/letters.toml``. A
shop may give its own.
"""

from __future__ import annotations

import gzip
import re
import tomllib
from collections.abc import Sequence
from functools import lru_cache

from narrator.errors import NarratorError
from narrator.paths import GRAMMARS, MODELS

PHONES = (
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W Y Z ZH"
).split()
DICTIONARY = MODELS / "shop" / "cmudict.txt.gz"
"""CMUdict without stress marks, a line a pronunciation."""
MOST = 3
"""Pronunciations of one word at most."""
_MOST_ROWS = 64
"""Pronunciations of a row of words at most."""

Pronunciation = tuple[str, ...]

_VOICED = frozenset("B D G V DH Z ZH JH M N NG L R W Y AA AE AH AO AW AY EH ER EY IH IY OW OY UH UW".split())
_HISSING = frozenset("S Z SH ZH CH JH".split())
_VOWELS = re.compile(r"[aeiouy]")


@lru_cache(maxsize=1)
def _dictionary() -> str:
    """CMUdict as text: searching 3 MB takes a millisecond, reading it into a table takes seconds."""
    return "\n" + gzip.decompress(DICTIONARY.read_bytes()).decode("utf-8")


@lru_cache(maxsize=4096)
def _listed(word: str) -> tuple[Pronunciation, ...]:
    """What CMUdict has for a word: its lines stand together."""
    text, start = _dictionary(), f"\n{word} "
    found, at = [], text.find(start)
    while at >= 0:
        end = text.find("\n", at + 1)
        found.append(tuple(text[at + len(start) : end].split()))
        at = end if text.startswith(start, end) else -1
    return tuple(found)


@lru_cache(maxsize=1)
def _letters() -> tuple[dict[str, Pronunciation], dict[str, Pronunciation]]:
    """Whole words given by hand, and letter groups with their sounds."""
    table = tomllib.loads((GRAMMARS / "hearing" / "letters.toml").read_text(encoding="utf-8"))
    words, groups = ({k: tuple(v.split()) for k, v in table[part].items()} for part in ("words", "groups"))
    return words, groups


@lru_cache(maxsize=8192)
def pronunciations(word: str) -> list[Pronunciation]:
    """Ways to say a lower-case word, likeliest first; always at least one for a word with a letter in it."""
    return known(word) or _taken_apart(word) or _guessed(word)


def alike(one: Sequence[str], other: Sequence[str]) -> bool:
    """Whether two rows of words can be said with the same sounds ("seventy", "seven t")."""
    return bool(one) and bool(other) and not _sounds(tuple(one)).isdisjoint(_sounds(tuple(other)))


@lru_cache(maxsize=1024)
def _sounds(words: tuple[str, ...]) -> frozenset[Pronunciation]:
    rows: list[Pronunciation] = [()]
    for word in words:
        rows = [row + way for row in rows[:_MOST_ROWS] for way in pronunciations(word) or [("",)]]
    return frozenset(rows)


def known(word: str) -> list[Pronunciation]:
    """Those given by hand or by CMUdict."""
    by_hand = _letters()[0].get(word)
    return list(dict.fromkeys([*([by_hand] if by_hand else []), *_listed(word)]))[:MOST]


def parse(text: str) -> Pronunciation:
    """A pronunciation as a shop writes it: phones between blanks, stress marks allowed.

    Raises:
        NarratorError: E220 naming what is no phone.
    """
    phones = tuple(phone.rstrip("012") for phone in text.upper().split())
    wrong = [phone for phone in phones if phone not in PHONES]
    if wrong or not phones:
        raise NarratorError("E220", wrong=", ".join(wrong) or "nothing", phones=" ".join(PHONES))
    return phones


def _taken_apart(word: str) -> list[Pronunciation]:
    for ending, add in (
        ("'s", _plural),
        ("es", _plural),
        ("s", _plural),
        ("'ll", _will),
        ("'d", _past),
        ("ed", _past),
    ):
        for stem in (word.removesuffix(ending), word.removesuffix(ending) + "e"):
            if word.endswith(ending) and len(stem) > 2 and known(stem):
                return [add(said) for said in known(stem)]
    if word.endswith(("ing", "in", "er", "ers")) and len(word) > 5:
        sound = {"ing": ("IH", "NG"), "in": ("IH", "N"), "er": ("ER",), "ers": ("ER", "Z")}
        ending = next(e for e in ("ing", "in", "ers", "er") if word.endswith(e))
        stem = word.removesuffix(ending)
        for whole in (stem, stem + "e", stem[:-1] if stem[-1:] == stem[-2:-1] else stem):
            if known(whole):
                return [said + sound[ending] for said in known(whole)]
    for prefix, sound_of in (("un", ("AH", "N")), ("re", ("R", "IY")), ("de", ("D", "IY"))):
        if word.startswith(prefix) and len(word) > 5 and known(word[2:]):
            return [sound_of + said for said in known(word[2:])]
    for at in range(len(word) - 3, 2, -1):
        if known(word[:at]) and known(word[at:]):
            return [known(word[:at])[0] + known(word[at:])[0]]
    return []


def _plural(said: Pronunciation) -> Pronunciation:
    if said[-1] in _HISSING:
        return (*said, "IH", "Z")
    return (*said, "Z" if said[-1] in _VOICED else "S")


def _past(said: Pronunciation) -> Pronunciation:
    if said[-1] in ("T", "D"):
        return (*said, "IH", "D")
    return (*said, "D" if said[-1] in _VOICED else "T")


def _will(said: Pronunciation) -> Pronunciation:
    return (*said, "AH", "L")


def _guessed(word: str) -> list[Pronunciation]:
    letters = re.sub(r"[^a-z]", "", word)
    if letters and not _VOWELS.search(letters):
        return [tuple(phone for letter in letters for phone in known(letter)[-1])]
    groups = _letters()[1]
    phones: list[str] = []
    at = 0
    while at < len(letters):
        for size in (4, 3, 2, 1):
            if (group := letters[at : at + size]) in groups and len(group) == size:
                phones += groups[group]
                at += size
                break
        else:
            at += 1
    merged = [phone for i, phone in enumerate(phones) if i == 0 or phone != phones[i - 1]]
    return [tuple(merged)] if merged else []
