"""Part numbers, spelled or written: where they begin, where they end, and what is none."""

from __future__ import annotations

import re

from narrator.language.numberwords import DIGITS
from narrator.language.spelled import SPELLED, Piece, after_comma, is_article, letters_before, no_word
from narrator.language.sums import number_ends
from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.phrases import Phrases
from narrator.values import Look, PartNumber

_NOT_PART = re.compile(r"R\d{2,4}[A-Z]{0,2}|\d+W-?\d+|DOT\d.*|\d+[A-Z]{1,3}|[A-Z]\d{1,2}|M\d+X[\d.]+")
_WRITTEN = re.compile(r"[A-Z]{2,4}-\d{2,}[A-Z0-9-]*|\d{2}-\d{3,}")
"""A part number as it is written beside its price."""
_FIGURES = re.compile(r"\d{2}-\d{3,}")
_PERIODS = frozenset("day days week weeks hour hours minute minutes month months".split())
_CUES = Phrases((phrase, phrase) for phrase in load("spelling")["cue"][0]["phrases"])
_DEAL = Phrases((phrase, True) for phrase in load("money")["deal"][0]["words"])
_WEAK = frozenset(("under", "it's", "that's", "is", "part"))
_ABBREVIATIONS = frozenset(load("spelling")["lists"][0]["words"])
_MONEY = frozenset(w for row in load("money")["currency"] for w in row["words"]) | {"pounds", "pound"}


def part_number(notes: Notes, run: list[Piece]) -> None:
    """Enter the part number that a run of spelled pieces holds, if it holds one."""
    before = letters_before(notes, run)
    capitals = before if before.isupper() and before not in _ABBREVIATIONS else ""  # "TA 55120"
    _enter(notes, _joined(before, run), capitals)


def _cue_before(notes: Notes, start: int) -> str | None:
    """The phrase that introduces a part number straight before ``start``."""
    words = notes.words
    for length in (3, 2, 1) if not _CUES.starts.keys().isdisjoint(words) else ():
        if start - length >= 0 and (hit := _CUES.at(words, start - length)) and hit[0] == start:
            return str(hit[1])
    return None


def _cue_after(notes: Notes, end: int) -> str | None:
    """What names a part number right behind it: *seven nine two one four is the number*."""
    words = notes.words[end : end + 4]
    told = words[:2] in (["is", "the"], ["'s", "the"]) and "number" in words[2:4]
    return "part number" if told and words[2] in ("number", "part") else None


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
            one = singles > 3 and run[n - 1].chars == "1" and n + 1 < len(run) and run[n + 1].pair
            run = run[: n - 1] if one and not after_comma(notes, part.start) else run[:n]
            break  # "oh two one sixty four fifty": a hundred and sixty four
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


def _enter(notes: Notes, run: list[Piece], capitals: str) -> None:
    start = run[0].start - (1 if capitals else 0)
    cue = _cue_before(notes, start) or _cue_after(notes, run[-1].end)
    strong = cue is not None and cue not in _WEAK
    plain = not (strong or capitals) and all(p.chars.isdigit() or p.chars == "-" for p in run)
    if plain and not _beside_sum(notes, run):
        return  # a number by itself
    if len(run) > 1 and notes.words[run[0].start] == "o" and run[1].chars.isalpha():
        run = [Piece(run[0].start, run[0].end, "O"), *run[1:]]
    whole = _letter_o(notes, run)
    run = _trim(notes, whole, strong)
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
        _look_at_end(notes, number, run, [part for part in whole if part.start >= at[1]])


def _look_at_end(notes: Notes, number: str, run: list[Piece], rest: list[Piece]) -> None:
    """Ask for a look where a digit may end the number or begin the price: *one two thirty eight fifty*."""
    begins = bool(rest) and not rest[0].pair
    digit, *price = rest if begins else [run[-1], *rest]
    single = len(digit.chars) == 1 and digit.chars in "123456789"
    pairs = len(price) in (1, 2) and all(part.pair and len(part.chars) == 2 for part in price)
    figures = sum(part.chars.isdigit() for part in run) > (0 if begins else 1)
    if len(price) == 1 and not _MONEY.isdisjoint(notes.words[price[0].end : price[0].end + 1]):
        return  # "one four eighteen pounds": nobody says four pounds eighteen so
    if not (single and pairs and figures) or after_comma(notes, digit.start if begins else price[0].start):
        return
    short, long = (number, number + digit.chars) if begins else (number[:-1], number)
    cents = [*(part.chars for part in price), "00"]
    readings = [f"{long} and {cents[0]}.{cents[1]}"]
    small = f"{digit.chars}.{cents[0]}" if len(price) == 1 else f"{digit.chars}{cents[0]}.{cents[1]}"
    readings.insert(0 if begins else 1, f"{short} and {small}")
    span = notes.span(run[0].start, price[-1].end)
    heard = notes.heard[slice(*span)]
    notes.looks.append(
        Look("split", f"“{heard}” read as {readings[0]}; it may also mean {readings[1]}", 0, span)
    )


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


def _joined(heard: str, run: list[Piece]) -> list[Piece]:
    """The run with letters before it that were heard as one word (*wk zero eight eight two*)."""
    known = not heard or heard.isupper() or heard.upper() in _ABBREVIATIONS
    start = run[0].start
    return run if known or not no_word(heard, run) else [Piece(start - 1, start, heard.upper()), *run]
