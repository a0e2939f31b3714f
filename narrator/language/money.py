"""Prices: amounts with a currency said or written, and amounts that only their surroundings tell."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from narrator.language.fastenernames import KINDS as FASTENERS
from narrator.language.figures import Figure, Figures, figures_of, join
from narrator.language.moneysums import PRICE_ENDS, as_money, sum_of
from narrator.language.numberwords import LABELS
from narrator.language.stage import stage
from narrator.language.straddling import cut_at
from narrator.language.tables import load
from narrator.language.tokens import Notes
from narrator.language.units import unit_at
from narrator.phrases import Phrases
from narrator.values import Fastener, PartNumber, Price

_TABLE = load("money")
CURRENCIES = Phrases((word, (row["code"], row["id"])) for row in _TABLE["currency"] for word in row["words"])
MINOR = frozenset(_TABLE["minor"][0]["words"])
_MINORS = {word: "GBP" if word == "pence" else None for word in ("pence", "cents")}
_POUNDS = frozenset(("pound", "pounds"))
_POUND_CUES = Phrases((word, True) for word in _TABLE["pounds"][0]["cues"])
_POUND_STRONG = Phrases((word, True) for word in _TABLE["pounds"][0]["strong"])
_POUND_BOUGHT = frozenset(_TABLE["pounds"][0]["bought"])
_POUND_AGAINST = frozenset(_TABLE["pounds"][0]["against"])
CUES = Phrases((word, True) for word in _TABLE["cue"][0]["words"] if not word.startswith("<"))
EVEN = Phrases((word, kind == "words") for kind in ("words", "weak") for word in _TABLE["even"][0][kind])
_DIRECT, _DEAL = (Phrases((word, True) for word in _TABLE["deal"][0][name]) for name in ("direct", "words"))
_DECIDES, _IS = Phrases((w, True) for w in _TABLE["deal"][0]["decides"]), frozenset(("'s", "is", "are"))
_FITTED = frozenset(("tight", "torque", "tighten", "tightened", "back", "bolts", "nuts", "screws"))
_MEASURED = Phrases((w, True) for row in load("quantities")["context"] for w in row["words"])
_PARTS: dict[tuple[str, ...], float] = {("and", "a", "half"): 0.5, ("and", "a", "quarter"): 0.25}
_HAVING = frozenset("have has had 've got get keeps keep stocks sells sold new old used spare good".split())
_SETS = frozenset(("set", "pack", "box", "bag"))
_NOT_EVEN = (["out"], ["when"], ["though"], ["if"], ["with"], ["then"], ["in"], ["under"], ["on"])
"""What follows *flat* and *even* where they tell no sum: *three ninety flat out*, *sixty even when hot*."""
SIGNS = frozenset("$£€₹₦")

_OF_EACH = frozenset(("each", "apiece"))
_NO_MONEY = frozenset(("mil", "volt", "amp", "foot"))


def _currency(notes: Notes, found: Figures, i: int) -> tuple[int, str | None, str] | None:
    """The currency named at token ``i``: where it ends, its code, the rule."""
    words = notes.words
    if hit := CURRENCIES.at(words, i):
        return hit[0], hit[1][0], hit[1][1]
    if i < len(words) and words[i] in _POUNDS:
        after = words[i + 1] if i + 1 < len(words) else ""
        cents = found.starting.get(i + 1)
        if cents and cents.whole and 10 <= cents.value < 100 and not _unit_follows(notes, cents.end):
            return i + 1, "GBP", "money.pounds"  # "four pound twenty"
        if len(after) == 1 and after.isalpha() and after not in "ai":
            return (
                i + 1,
                "GBP",
                "money.pounds",
            )  # "eighteen pound k e double seven": a part number
        against = _POUND_AGAINST.intersection(words) - ({"of"} if after != "of" else set())
        numbered = any(isinstance(e, PartNumber) for e in notes.entities)
        cued = numbered or _POUND_CUES.first(words) or after in MINOR
        ends = words[i] == "pound" and (i + 1 == len(words) or i + 1 in notes.marks)
        cued = cued or (ends and not _POUND_BOUGHT.isdisjoint(words))  # "new belt on, twelve pound"
        if _POUND_STRONG.first(words) or (cued and not against):
            return i + 1, "GBP", "money.pounds"
    return None


def _enter(notes: Notes, at: tuple[int, int], amount: float, code: str | None, rule: str) -> None:
    if 0 < amount < 1_000_000:
        value = Decimal(str(round(amount, 2))).quantize(Decimal("0.01"))
        notes.entities.append(Price(span=notes.span(*at), at=at, rule=rule, amount=value, currency=code))


def _cents(notes: Notes, found: Figures, end: int, currency: int) -> tuple[float, int]:
    """Cents said after the currency that ends at ``end``: their value in the currency, and where they end."""
    words = notes.words
    if part := _PARTS.get(tuple(words[end : end + 3])):
        return part, end + 3
    start = end + (end < len(words) and words[end] == "and")
    figure = found.starting.get(start)
    if figure is None or figure.start in notes.marks or not figure.whole or not 0 < figure.value < 100:
        return 0.0, end
    after = figure.end
    if after < len(words) and words[after] in MINOR:
        return figure.value / 100, after + 1
    touching = found.starting.get(after)
    closed = after in notes.marks or after == len(words)  # "88 euros 20, number ..."
    if start > end or touching or figure.value < 10 or (figure.written and not closed):
        return 0.0, end
    if after < len(words) and counts(words[after]):
        return 0.0, end
    return figure.value / 100, after


def counts(word: str) -> bool:
    """Whether a number before this word counts it (*two bolts*) rather than being cents."""
    plural = len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is", "ways"))
    return plural or word in ("mil", "mils", "mm", "percent", "minutes", "hours", "miles", "volts")


def _amount(row: list[Figure], notes: Notes) -> list[Figure]:
    """The figures of a sum; a *one* or a count before them is none of it: *had one eleven pound forty*."""
    first = row[0]
    before = notes.words[first.start - 1] if first.start and first.start not in notes.marks else ""
    one = first.value == 1 and first.whole and not first.written and before in _HAVING
    earlier = notes.words[first.start - 2] if first.start > 1 else ""
    of = before == "of" and earlier in _SETS and first.whole and first.value < 13
    if len(row) > 1 and notes.words[row[-1].start : row[-1].end] == ["a", "pair"]:
        row = row[:-1]  # "sixty two a pair"
    return row[1:] if len(row) > 1 and (one or of) else row


def _unit_follows(notes: Notes, i: int) -> bool:
    return unit_at(notes.words, i, clinging=False, part=False) is not None


def _whole_amount(row: Sequence[Figure]) -> float | None:
    """Figures before a currency are whole money, as other numbers are."""
    joined = join(row)
    return joined if joined is not None else as_money(row)


def _two_pairs(row: Sequence[Figure]) -> bool:
    """*k j four four one two thirty eight fifty dollars*: behind a number these are 38.50."""
    return len(row) == 2 and all(f.whole and not f.written and 10 <= f.value < 100 for f in row)


def _said(notes: Notes, found: Figures, mask: list[bool]) -> None:
    """Amounts with a currency after or before them."""
    words, n = notes.words, 0
    for first in found.all:
        if first.start < n or mask[first.start]:
            continue
        row = _amount([f for f in found.run(first.start, notes.marks) if not mask[f.start]], notes)
        figure = row[0]
        end, before = row[-1].end, figure.start - 1
        if figure.written and _rand(notes, before):
            _enter(notes, (before, figure.end), figure.value, "ZAR", "money.zar")
            n = figure.end
        elif before >= 0 and words[before] in SIGNS:
            code, rule = CURRENCIES.starts[words[before]][0][1]
            _enter(notes, (before, figure.end), figure.value, code, rule)
            n = figure.end
        elif end < len(words) and words[end] in SIGNS and (end in notes.marks or end + 1 in found.starting):
            continue  # "27-4410, $3.85": the sign is the next number's
        elif hit := _currency(notes, found, end):
            beside = any(isinstance(e, PartNumber) and e.at[1] == figure.start for e in notes.entities)
            amount = as_money(row) if beside and _two_pairs(row) else _whole_amount(row)
            cents, stop = _cents(notes, found, hit[0], end)
            if amount is not None:
                _enter(notes, (figure.start, stop), amount + cents, hit[1], hit[2])
            n = stop
    _single(notes, found, mask)
    if not _MINORS.keys().isdisjoint(notes.words):
        _minor(notes, found)


def _minor(notes: Notes, found: Figures) -> None:
    """*sixty pence each*, *about thirty cents worth*: no whole money at all."""
    mask = notes.taken()
    for figure in found.all:
        word = notes.words[figure.end] if figure.end < len(notes.words) else ""
        fits = figure.whole and 0 < figure.value < 100 and not mask[figure.start]
        if fits and word in _MINORS and figure.end not in notes.marks:
            _enter(notes, (figure.start, figure.end + 1), figure.value / 100, _MINORS[word], "money.cents")


def _single(notes: Notes, found: Figures, mask: list[bool]) -> None:
    """*a dollar ten*, *a buck fifty*."""
    for i, word in enumerate(notes.words[:-1]) if "a" in notes.words else ():
        if word != "a" or mask[i] or i in found.starting:
            continue
        hit = CURRENCIES.at(notes.words, i + 1)
        if hit and (found.starting.get(hit[0]) or notes.words[hit[0] - 1] in ("dollar", "euro", "buck")):
            cents, stop = _cents(notes, found, hit[0], i)
            if cents:
                _enter(notes, (i, stop), 1 + cents, hit[1][0], hit[1][1])


def _unsaid(notes: Notes, found: Figures, mask: list[bool]) -> None:
    """Amounts without a currency, where a part number or a word of buying stands in the utterance."""
    words = notes.words
    numbers = [e for e in notes.entities if isinstance(e, PartNumber)]
    priced_line = any(isinstance(e, Price) for e in notes.entities)
    done = 0
    for first in found.all:
        if first.start < done or mask[first.start]:
            continue
        row = _amount(found.run(first.start, notes.marks), notes)
        figure, done = row[0], row[-1].end
        label = words[figure.start - 1] if figure.start and figure.start not in notes.marks else ""
        told = words[max(0, figure.start - 3) : figure.start - 1] in (["is", "the"], ["'s", "the"])
        if label in LABELS and label != "no" and not told:
            continue  # but "seven nine two is the number three ninety five"
        amount = sum_of(notes, row)
        if amount is None:
            continue
        even = _even(words, done)
        touching = any(e.at[0] - done in (0, 1) or figure.start - e.at[1] in (0, 1, 2) for e in numbers)
        cents = len(row) > 1 and row[-1].value >= 10 and row[0].value >= 1 and all(f.whole for f in row)
        priced = figure.form == "decimal" and figure.written and len(words[figure.start].split(".")[-1]) == 2
        direct = _DIRECT.first(words, max(0, figure.start - 3), figure.start)
        asked = bool(direct and direct[1] == figure.start) or _to_decide(words, figure.start)
        asked = asked and not _unit_follows(notes, done)
        if not (even or cents or priced or (len(row) == 1 and (touching or asked))):
            continue
        near = priced_line or asked or _dealt(notes, row) or _cued(words, figure.start, done)
        odd = (
            len(row) == 2 and row[0].value >= 10 and row[1].value in PRICE_ENDS and not _MEASURED.first(words)
        )
        odd = odd or (len(row) == 2 and _ends_a_remark(notes, row))
        if not (even or touching or near or odd):
            continue
        if even and not even[1] and not (touching or near or "new" in words):
            continue  # "twelve flat", "seven fifty on the nose": as well a reading
        least = 13 if any(e.at[0] - done in (0, 1) for e in numbers) else 5  # "sold by eight, v s oh nine"
        whole = (touching or asked) and len(row) == 1 and amount >= least
        if not (even or cents or (priced and near) or whole):
            continue
        if (
            done < len(words)
            and not even
            and (counts(words[done]) or words[done] in _NO_MONEY or FASTENERS.at(words, done))
        ):
            continue
        rule = "money.even" if even else "money.cue"
        _enter(notes, (figure.start, even[0] if even else done), amount, None, rule)


def _ends_a_remark(notes: Notes, row: Sequence[Figure]) -> bool:
    """*Put a new shear pin in, one ninety nine*: marked off by itself, and said as prices end."""
    end = row[-1].end
    alone = row[0].start in notes.marks and (end == len(notes.words) or end in notes.marks)
    small = 1 <= row[0].value < 10 and row[1].value in PRICE_ENDS
    new = not {"new", "need", "needs", "order"}.isdisjoint(notes.words)
    return alone and small and new and _FITTED.isdisjoint(notes.words) and not _MEASURED.first(notes.words)


def _to_decide(words: Sequence[str], start: int) -> bool:
    """*Motor's a hundred and forty, he'll think about it*: a sum that somebody has to agree to."""
    return bool(start) and words[start - 1] in _IS and _DECIDES.first(words) is not None


def _cued(words: Sequence[str], start: int, end: int) -> bool:
    """Whether a word of buying stands near a sum; *each* is said of what is measured too."""
    near = [
        words[a]
        for a, b, _ in CUES.all(words)
        if (abs(a - end) <= 6 or abs(start - b) <= 6) and words[a : a + 2] != ["runs", "at"]
    ]
    return any(word not in _OF_EACH for word in near) or (bool(near) and not _MEASURED.first(words))


def _rand(notes: Notes, i: int) -> bool:
    """*R 385*: a capital R by itself before a written number, where no number of a part is being told."""
    alone = 0 < i < len(notes.words) and notes.words[i] == "r" and notes.heard[notes.source[i][0]] == "R"
    alone = alone and i + 1 not in notes.marks
    return alone and (i in notes.marks or (len(notes.words[i - 1]) > 1 and notes.words[i - 1] not in LABELS))


def _even(words: Sequence[str], i: int) -> tuple[int, bool] | None:
    """*thirty one even*, *twelve flat*; but neither *flat out* nor *even when*."""
    hit = EVEN.at(words, i)
    return hit if hit and words[hit[0] : hit[0] + 1] not in _NOT_EVEN else None


def _dealt(notes: Notes, row: Sequence[Figure]) -> bool:
    """Whether a pair of figures is a price by what is said of the goods: *in the drawer, twelve fifty*."""
    pair = len(row) == 2 and all(f.whole and not f.written for f in row) and row[0].value >= 5
    if not pair or row[1].value % 5 or not 10 <= row[1].value < 100 or _MEASURED.first(notes.words):
        return False
    fixed = any(isinstance(e, Fastener) for e in notes.entities) or not _FITTED.isdisjoint(notes.words)
    return not fixed and not _unit_follows(notes, row[-1].end) and _DEAL.first(notes.words) is not None


@stage("money")
def money_stage(notes: Notes) -> None:
    """Pipeline stage: prices. A currency left unsaid stays None here; the session's memory supplies it."""
    found = figures_of(notes)
    if not found.all and "a" not in notes.words:
        return
    for number in [e for e in notes.entities if isinstance(e, PartNumber)]:
        cut_at(notes, number.at[1])  # "r s two two four, eight thousand"
    _said(notes, found, notes.taken())
    if found.all:
        _unsaid(notes, found, notes.taken())
