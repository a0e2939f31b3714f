"""Trouble codes, VINs and, with ``partnumbers``, part numbers: spelled or written."""

from __future__ import annotations

import re
from itertools import pairwise

from narrator.language.partnumbers import part_number
from narrator.language.selfcorrect import CORRECTIONS
from narrator.language.spelled import ALPHABET, SOUNDS, SPELLED, Piece, spelled_runs
from narrator.language.stage import stage
from narrator.language.tables import fired, load, taken_back, used
from narrator.language.tokens import Notes
from narrator.language.vin import read_vin
from narrator.values import TroubleCode

TITLES: dict[str, str] = load("dtc")["titles"]
_MAKER = re.compile(r"[EFH]\d{1,3}", re.ASCII)
_ERROR = frozenset(("error", "errors", "entries", "display", "flashes", "flashing", "blinks"))
_CUT = re.compile(r"([pcbu])([0-3][0-9a-f]{0,2})", re.ASCII)
_CUT_AFTER = frozenset("0123")
_DIGIT = re.compile(r"\d")
_TELLING = SPELLED - frozenset(("a", "i", "s", "t", "d", "m"))
CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}", re.ASCII)
_FIRST = {"p": "P", "b": "B", "c": "C", "u": "U"}
_FIRST |= {w: c for table in (SOUNDS, ALPHABET) for w, c in table.items() if c in "PBCU"}
_SURE = frozenset(("p", "pea", "pee", "papa"))
_SCAN = frozenset(load("spelling")["lists"][1]["words"])


def title(code: str) -> str | None:
    """The standard's title of a code, where it was checked; None otherwise (misfires name their cylinder)."""
    if code.startswith("P030") and code[4] in "123456789":
        return f"Cylinder {code[4]} Misfire Detected"
    return TITLES.get(code)


# ------------------------------------------------------------------ trouble codes


def _tail(notes: Notes, pieces: list[Piece], want: int) -> tuple[str, int] | None:
    """Characters of the pieces up to ``want``, and where they end."""
    chars, end = "", 0
    for part in pieces:
        if any(c not in "0123456789ABCDEF" for c in part.chars) or len(chars) >= want:
            break
        chars += part.chars
        end = part.end
    return (chars, end) if chars else None


def _spoken_code(notes: Notes, i: int, pieces: list[Piece]) -> tuple[str, int, bool] | None:
    """A code whose letter is token ``i`` and whose figures are ``pieces``: code, end, whether completed."""
    letter = _FIRST[notes.words[i]]
    found = _tail(notes, pieces, 4)
    if found is None:
        return None
    chars, end = found
    if len(chars) == 5 and chars[4] in "ABCDEF":  # an article after the code: "p zero four twenty a ..."
        chars, end = chars[:4], pieces[-1].start
    if len(chars) == 4 and CODE.fullmatch(letter + chars):
        return letter + chars, end, False
    complete = notes.words[i] in _SURE and len(chars) == 3 and chars.isdigit() and chars[0] in "01234567"
    if complete and not (pieces[0].chars == "0" and len(pieces) == 2):
        return f"P0{chars}", end, True
    return None


def _codes(notes: Notes, pieces_at: dict[int, Piece]) -> None:
    words = notes.words
    taken = notes.taken()
    for i, word in enumerate(words):
        if word not in _FIRST and word[1:2] not in _CUT_AFTER:
            continue
        if (split := _CUT.fullmatch(word)) and not taken[i]:
            _cut_code(notes, i, split, pieces_at)
        if word not in _FIRST or i + 1 >= len(words) or taken[i]:
            continue
        if len(word) > 1 and word not in _SURE and _SCAN.isdisjoint(words):
            continue  # "i see one two three four"
        pieces: list[Piece] = []
        j = i + 1
        while (part := pieces_at.get(j)) and len(pieces) < 5:
            pieces.append(part)
            j = part.end
        if not pieces or not pieces[0].chars[0].isdigit():
            continue
        if i and i - 1 in pieces_at and len(words[i - 1]) == 1 and words[i - 1] not in ("a", "i"):
            continue  # a letter before it: a part number
        if code := _spoken_code(notes, i, pieces):
            _enter_code(notes, code[0], (i, code[1]), code[2])


def _cut_code(notes: Notes, i: int, split: re.Match[str], pieces_at: dict[int, Piece]) -> None:
    """A code written with gaps: *P0 4 2 0*."""
    chars, end = split[2].upper(), i + 1
    while (part := pieces_at.get(end)) and len(chars) < 4:
        chars, end = chars + part.chars, part.end
    if CODE.fullmatch(split[1].upper() + chars):
        _enter_code(notes, split[1].upper() + chars, (i, end), False)


def _enter_code(notes: Notes, code: str, at: tuple[int, int], inferred: bool) -> None:
    rule = "dtc.inferred" if inferred else "dtc.spoken"
    notes.entities.append(TroubleCode(span=notes.span(*at), at=at, rule=rule, code=code, inferred=inferred))


def _corrected(notes: Notes) -> None:
    """*p zero three zero one no excuse me p zero three zero three*: the first is taken back."""
    found = sorted((e for e in notes.entities if isinstance(e, TroubleCode)), key=lambda e: e.at)
    for one, two in pairwise(found):
        cue = CORRECTIONS.at(notes.words, one.at[1])
        if cue and cue[0] == two.at[0]:
            notes.entities.remove(one)
            fired(notes, cue[1])


def _maker_codes(notes: Notes, runs: list[list[Piece]]) -> None:
    """*error E142*, *code e fourteen*: a maker's own code, kept as said."""
    for run in runs:
        letter = notes.words[run[0].start]
        if letter[0] not in "efh" or not _MAKER.fullmatch(chars := "".join(p.chars for p in run)):
            continue
        told = not _SCAN.isdisjoint(notes.words) or not _ERROR.isdisjoint(notes.words)
        if told or (len(run) == 1 and len(letter) > 1 and len(chars) == 4):
            at = (run[0].start, run[-1].end)
            notes.entities.append(TroubleCode(span=notes.span(*at), at=at, rule="dtc.maker", code=chars))


def _slang(notes: Notes) -> None:
    """*a code four twenty*: the letter and leading zero left unsaid."""
    words = notes.words
    for i, word in enumerate(words[:-1]):
        if word not in ("code", "codes") or words[i + 1] not in SPELLED:
            continue
        for run in spelled_runs(notes):
            if run[0].start == i + 1:
                chars = "".join(p.chars for p in run)
                if len(chars) == 3 and chars.isdigit() and "0" < chars[0] < "8":
                    _enter_code(notes, f"P0{chars}", (i + 1, run[-1].end), True)
                elif len(chars) == 4 and chars.isdigit() and chars[0] == "0":
                    _enter_code(notes, f"P{chars}", (i + 1, run[-1].end), True)


def _mask(notes: Notes) -> list[bool]:
    mask = notes.taken()
    for i in taken_back(notes):
        mask[i] = True
    return mask


@stage("codes")
def codes_stage(notes: Notes) -> None:
    """Pipeline stage: trouble codes, VINs and part numbers."""
    words = notes.words
    told = not _TELLING.isdisjoint(words) and sum(map(_TELLING.__contains__, words)) > 1
    if not told and not _DIGIT.search(notes.heard):
        return
    runs = spelled_runs(notes)
    if not runs:
        return
    for run in runs:
        for part in run:
            if len(part.chars) in (5, 7, 8) and CODE.match(part.chars) and part.chars[5:6] in ("", "-"):
                _enter_code(notes, part.chars[:5], (part.start, part.end), False)
    cued = "vin" in words or "chassis" in words or ("v" in words and "n" in words)
    for run in runs:
        if sum([len(p.chars) for p in run]) >= 11 and read_vin(notes, run, cued):
            used(notes).update(range(run[0].start, run[-1].end))
    spent = used(notes)
    _codes(notes, {p.start: p for run in runs for p in run if p.start not in spent})
    if "code" in words or "codes" in words:
        _slang(notes)
    _maker_codes(notes, runs)
    _corrected(notes)
    mask = _mask(notes)
    for whole in runs if "vin" not in words else ():
        run = whole[3:] if [part.chars for part in whole[:3]] == ["P", "/", "N"] else whole
        free = [part for part in run if not mask[part.start]]
        if run and len(free) == len(run):
            part_number(notes, run)
