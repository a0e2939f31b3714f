"""Trouble codes, VINs and part numbers, spelled or written."""

from __future__ import annotations

import re
from itertools import pairwise

from narrator.language.numberwords import DIGITS
from narrator.language.selfcorrect import CORRECTIONS
from narrator.language.spelled import (
    ALPHABET,
    SOUNDS,
    SPELLED,
    Piece,
    after_comma,
    is_article,
    letters_before,
    no_word,
    spelled_runs,
)
from narrator.language.stage import stage
from narrator.language.sums import hundreds_at, number_ends
from narrator.language.tables import Phrases, fired, load, taken_back, used
from narrator.language.tokens import Notes
from narrator.language.vin import read_vin
from narrator.values import PartNumber, TroubleCode

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
_NOT_PART = re.compile(r"R\d{2,4}[A-Z]{0,2}|\d+W-?\d+|DOT\d.*|\d+[A-Z]{1,3}|[A-Z]\d{1,2}|M\d+X[\d.]+")
_WRITTEN = re.compile(r"[A-Z]{2,4}-\d{2,}[A-Z0-9-]*|\d{2}-\d{3,}")
"""A part number as it is written beside its price."""
_FIGURES = re.compile(r"\d{2}-\d{3,}")
_PERIODS = frozenset("day days week weeks hour hours minute minutes month months".split())
_CUES = Phrases((phrase, phrase) for phrase in load("spelling")["cue"][0]["phrases"])
_DEAL = Phrases((phrase, True) for phrase in load("money")["deal"][0]["words"])
_WEAK = frozenset(("under", "it's", "that's", "is", "part"))
_ABBREVIATIONS, _SCAN = (frozenset(row["words"]) for row in load("spelling")["lists"][:2])
_MONEY = frozenset(w for row in load("money")["currency"] for w in row["words"]) | {"pounds", "pound"}


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


# ------------------------------------------------------------------ part numbers


def _cue_before(notes: Notes, start: int) -> str | None:
    """The phrase that introduces a part number straight before ``start``."""
    words = notes.words
    for length in (3, 2, 1) if not _CUES.starts.keys().isdisjoint(words) else ():
        if start - length >= 0 and (hit := _CUES.at(words, start - length)) and hit[0] == start:
            return str(hit[1])
    return None


def _trim_head(notes: Notes, run: list[Piece]) -> list[Piece]:
    """Cut articles, a price and a *one* said before a number that no word introduces."""
    while run and notes.words[run[0].start] in ("a", "oh", "o") and not _initial(run):
        run = run[1:]
    first = next((n for n, part in enumerate(run) if part.chars.isalpha()), 0)
    if any(part.pair for part in run[:first]):
        run = run[first:]  # "thirty one fifty t m two two six"
    counted = len(run) > 3 and run[0].chars.isdigit() and len(run[0].chars) == 1
    if counted and run[1].chars.isalpha() and run[2].chars.isalpha():
        run = run[1:]  # "they only sell by eight, v s zero nine zero"
    if len(run) > 2 and notes.words[run[0].start] == "one" and run[1].chars.isalpha():
        run = run[1:]  # "a spare one t m five five"
    if len(run) > 1 and notes.words[run[0].start] == "i" and not run[1].chars.isalpha():
        run = run[1:]
    return run


def _initial(run: list[Piece]) -> bool:
    """Whether an *a* or *o* is the first of two letters (*a d two two seven*), no article."""
    alone = (
        len(run) > 3 and run[1].chars.isalpha() and not run[2].chars.isalpha() and run[1].chars not in "PCBU"
    )
    return alone and all(len(part.chars) == 1 for part in run[1:4])


def _trim(notes: Notes, run: list[Piece], cued: bool) -> list[Piece]:
    """Cut what does not belong: articles at either end, a price said straight after."""
    if not cued:
        run = _trim_head(notes, run)
    singles = 0
    for n, part in enumerate(run):
        if part.chars in "-/.":
            singles = 0
        elif part.pair and singles >= 3:
            hundreds = singles > 3 and hundreds_at(run, n) and not after_comma(notes, part.start)
            run = run[: n - 1] if hundreds else run[:n]
            break
        else:
            singles += len(part.chars) == 1 and part.chars.isdigit()
    after = notes.words[run[-1].end] if run and run[-1].end < len(notes.words) else ""
    if after in _PERIODS and len(run) > 1 and run[-1].chars.isdigit():
        run = run[:-1]  # "t r b two four, ten days"
    money = after in _MONEY and after.isalpha()  # a sign is the next number's: "80-1172, $7.35"
    run = run[: number_ends(run, after, money)]
    while run and (run[-1].chars in "-/." or (is_article(notes, run[-1]) and len(run) > 1)):
        run = run[:-1]
    return run


def _part_number(notes: Notes, run: list[Piece], capitals: str) -> None:
    start = run[0].start - (1 if capitals else 0)
    cue = _cue_before(notes, start)
    strong = cue is not None and cue not in _WEAK
    plain = not (strong or capitals) and all(p.chars.isdigit() or p.chars == "-" for p in run)
    if plain and not _beside_sum(notes, run):
        return  # a number by itself
    if len(run) > 1 and notes.words[run[0].start] == "o" and run[1].chars.isalpha():
        run = [Piece(run[0].start, run[0].end, "O"), *run[1:]]
    run = _trim(notes, _letter_o(notes, run), strong)
    if not run:
        return
    start = run[0].start - (1 if capitals else 0)
    number = capitals + "".join(p.chars for p in run)
    letters, digits = sum(c.isalpha() for c in number), sum(c.isdigit() for c in number)
    head = re.match("[A-Z]*", number)
    priced = notes.words[run[-1].end : run[-1].end + 1]
    said = bool(priced) and priced[0] in SPELLED | _MONEY
    sold = said or not _MONEY.isdisjoint(notes.words) or _DEAL.first(notes.words) is not None
    short = digits <= 2 and len(number) - digits <= 3 and not strong and not sold
    unit = not strong and head and head.group() in _ABBREVIATIONS and not _spelled_out(notes, run)
    if short or _NOT_PART.fullmatch(number) or unit:
        return
    written = len(run) == 1 and not capitals
    if strong:
        enough = (
            letters + digits >= 4
            and digits >= 2
            and (letters > 0 or "-" in number or digits >= (4 if (cue or "").startswith("p") else 6))
        )
    elif written:
        enough = letters >= 1 and digits >= 3 and letters + digits >= 6
    else:
        initial = len(head.group()) if head else 0
        mixed = said and letters >= 2 and digits >= 3 and len(run) > 4  # "t five h two two, sixty four pound"
        dashed = sold and "-" in number
        enough = initial >= 2 and (digits >= 3 or (digits >= 2 and sold) or dashed or initial + digits >= 5)
        enough = (enough or mixed) and digits > 0
    if enough or (sold and _WRITTEN.fullmatch(number) is not None):
        at = (start, run[-1].end)
        rule = "partnumber.cue" if strong else "partnumber.bare"
        notes.entities.append(PartNumber(span=notes.span(*at), at=at, rule=rule, number=number))


def _beside_sum(notes: Notes, run: list[Piece]) -> bool:
    """Whether two groups of figures stand beside a sum of money (*27-4410, $3.85*)."""
    figures = "".join([p.chars for p in run])
    return "-" in figures and bool(_FIGURES.fullmatch(figures)) and not _MONEY.isdisjoint(notes.words)


def _letter_o(notes: Notes, run: list[Piece]) -> list[Piece]:
    """*s o l four eight one*: an *o* between two letters is one."""
    return [
        Piece(part.start, part.end, "O")
        if notes.words[part.start] == "o"
        and 0 < n < len(run) - 1
        and run[n - 1].chars.isalpha()
        and run[n + 1].chars.isalpha()
        else part
        for n, part in enumerate(run)
    ]


def _spelled_out(notes: Notes, run: list[Piece]) -> bool:
    """Whether two letters that may be short for something begin a number: *t v three one six*."""
    before = notes.words[run[0].start - 1] if run[0].start else ""
    if before in DIGITS or before[-1:].isdigit():
        return False  # "twelve v d c"
    if len(run) == 1:
        return _WRITTEN.fullmatch(run[0].chars) is not None
    letters = [part.chars.isalpha() for part in run[:2]] == [True, True]
    figures = "".join(part.chars for part in run[2:] if not part.pair)
    return letters and len(figures) > 2 and figures[:3].isdigit()


def _capitals(notes: Notes, run: list[Piece]) -> str:
    """A group of capital letters written before the run (*TA 55120*)."""
    heard = letters_before(notes, run)
    return heard if heard.isupper() and heard not in _ABBREVIATIONS else ""


def _joined(notes: Notes, run: list[Piece]) -> list[Piece]:
    """The run with letters before it that were heard as one word (*wk zero eight eight two*)."""
    heard, start = letters_before(notes, run), run[0].start
    known = not heard or heard.isupper() or heard.upper() in _ABBREVIATIONS
    return run if known or not no_word(heard, run) else [Piece(start - 1, start, heard.upper()), *run]


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
            _part_number(notes, _joined(notes, run), _capitals(notes, run))
