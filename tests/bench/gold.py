"""Scores records against annotated narrations; what each figure counts.

An annotation (NAME.gold.json, written by ``models.understanding.narrations.build``) may mark things
``optional``: neither asked for nor counted against a record. Every figure is an F1 (twice what is right
over what was asked for plus what was given), summed over all narrations:

- ``acts``: over the acts of every utterance, against the accepted set of acts that is nearest to what
  was given.
- ``entities`` and ``entities: TYPE``: one to one within an utterance. A component is found when its name
  is nearly the annotated one (rapidfuzz ``token_set_ratio`` of at least 80, so one word more or less is
  forgiven) and a second mention is free; a fastener needs kind, count, size and drive, a measurement
  value and unit, everything else its value letter for letter.
- ``suspects``: a suspect is found when its annotated keywords stand in its component or statement; right
  when it ends in an accepted status too. One that nobody annotated, or a double, counts against.
- ``causes``: suspects that end as confirmed; ``causes: precision`` is the share of those confirmed that
  are true.
- ``fastener ledger``: totals removed and installed for a kind and size, both exact.
- ``measurements``: values with units of the record's list, each once, against the annotated readings.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from rapidfuzz.fuzz import token_set_ratio

Row = dict[str, Any]
TO_BASE = {
    "mV": ("V", 1e-3), "mA": ("A", 1e-3), "kOhm": ("Ohm", 1e3), "in": ("mm", 25.4), "min": ("s", 60.0),
    "h": ("s", 3600.0), "kPa": ("bar", 0.01), "kW": ("W", 1e3),
}  # fmt: skip


class Figures(Counter[tuple[str, str]]):
    """Counts of ``right``, ``missed`` and ``extra`` under a figure's name."""

    def note(self, figure: str, right: int = 0, missed: int = 0, extra: int = 0) -> None:
        """Add to a figure."""
        self[figure, "right"] += right
        self[figure, "missed"] += missed
        self[figure, "extra"] += extra

    def f1(self, figure: str) -> float | None:
        """F1 of a figure; nothing where nothing was asked for or given."""
        right, wrong = self[figure, "right"], self[figure, "missed"] + self[figure, "extra"]
        return 2 * right / (2 * right + wrong) if right + wrong else None

    def precision(self, figure: str) -> float | None:
        """Share of what was given that is right."""
        given = self[figure, "right"] + self[figure, "extra"]
        return self[figure, "right"] / given if given else None

    def names(self) -> list[str]:
        """The figures, in the order in which they came up."""
        return list(dict.fromkeys(figure for figure, _ in self))


def plain(name: Any) -> str:
    """Lower case words in the singular."""
    words = re.findall(r"[a-z0-9.]+", str(name or "").lower().replace("'s", ""))
    return " ".join(w[:-1] if len(w) > 3 and w[-1] == "s" and w[-2] not in "sui" else w for w in words)


def _signs(number: str) -> str:
    return re.sub(r"[^A-Z0-9]", "", number.upper())


def amount(value: Any, unit: Any) -> tuple[str, float] | None:
    """A value in its base unit, five figures."""
    if value is None:
        return None
    base, factor = TO_BASE.get(str(unit), (str(unit), 1.0))
    return base, float(f"{float(value) * factor:.5g}")


def _size(row: Row) -> tuple[str, float] | None:
    size = row.get("size")
    return amount(size["value"], size["unit"]) if size else None


def same(wanted: Row, given: Row) -> bool:
    """Whether an entity is the annotated one."""
    if wanted["type"] != given["type"]:
        return False
    match wanted["type"]:
        case "component":
            return bool(token_set_ratio(plain(wanted["name"]), plain(given["name"])) >= 80)
        case "fastener":
            return (
                plain(wanted["kind"]).split()[-1:] == plain(given["kind"]).split()[-1:]
                and given.get("count") in wanted.get("count_ok", [wanted.get("count")])
                and wanted.get("drive") == given.get("drive")
                and _size(wanted) == _size(given)
            )
        case "measurement":
            found = amount(given["value"], given["unit"])
            return found in [amount(wanted["value"], u) for u in wanted.get("unit_ok", [wanted["unit"]])]
    if wanted["type"] == "part_number":
        return _signs(wanted["number"]) == _signs(given["number"])
    keys = ("code", "vin", "amount", "year", "make", "model", "value", "name", "unit")
    return all(plain(wanted.get(k)) == plain(given.get(k)) for k in keys)


def score_entities(wanted: list[Row], given: list[Row], figures: Figures) -> None:
    """Entities of one utterance."""
    left = list(given)
    for row in sorted(wanted, key=lambda row: bool(row.get("optional"))):
        found = next((one for one in left if same(row, one)), None)
        if found is not None:
            left.remove(found)
        if not row.get("optional"):
            for figure in ("entities", f"entities: {row['type']}"):
                figures.note(figure, right=found is not None, missed=found is None)
    for one in left:
        if one["type"] == "component" and any(same(row, one) for row in wanted):
            continue
        for figure in ("entities", f"entities: {one['type']}"):
            figures.note(figure, extra=1)


def score_acts(wanted: Row, given: set[str], figures: Figures) -> None:
    """Acts of one utterance, against the nearest accepted set."""
    sets = [set(acts) for acts in wanted.get("acts_ok", [wanted["acts"]])]
    near = max(sets, key=lambda s: 2 * len(s & given) / (len(s) + len(given)) if s or given else 1.0)
    figures.note("acts", right=len(near & given), missed=len(near - given), extra=len(given - near))


def _holds(words: Iterable[str], text: str) -> bool:
    """Whether every keyword (alternatives parted by a bar) stands at the start of a word."""
    return all(any(re.search(rf"\b{re.escape(w)}", text) for w in word.split("|")) for word in words)


def fits(wanted: Row, given: Row) -> int:
    """2 when a suspect's component is the annotated suspect, 1 when its statement is, else 0."""
    component = plain(given["component"])
    whole = f"{component} {given.get('fault') or ''} {given['statement']}".lower()
    if any(_holds([word], component or whole) for word in wanted.get("not_keywords", [])):
        return 0
    return 2 if _holds(wanted["keywords"], component) else int(_holds(wanted["keywords"], whole))


def score_suspects(gold: Row, rows: list[Row], figures: Figures) -> None:
    """Suspects one to one, the surest pairs first, and what ended as confirmed."""
    wanted = gold["hypotheses"]
    pairs = [
        (fits(w, r), r["history"][-1]["utterance"], j, i)
        for i, w in enumerate(wanted)
        for j, r in enumerate(rows)
    ]
    partner: dict[int, int] = {}
    for surety, _, j, i in sorted(pairs, reverse=True):
        if surety and i not in partner and j not in partner.values():
            partner[i] = j
    right = asked = 0
    for i, row in enumerate(wanted):
        if row.get("optional") and i not in partner:
            continue
        asked += 1
        right += i in partner and rows[partner[i]]["status"] in row.get("status_ok", [row["status"]])
    figures.note("suspects", right=right, missed=asked - right, extra=len(rows) - right)
    _causes(gold, [row for row in rows if row["status"] == "confirmed"], figures)


def _causes(gold: Row, confirmed: list[Row], figures: Figures) -> None:
    """A confirmed suspect is false when it fits no cause, or fits a suspect better that was never one."""
    nots = {str(row["keywords"]): row.get("not_keywords", []) for row in gold["hypotheses"]}
    causes = [{"keywords": w, "not_keywords": nots.get(str(w), [])} for w in gold["causes"]]
    links = [{"keywords": words} for words in gold.get("causes_ok", [])]
    others = [row for row in gold["hypotheses"] if row["status"] != "confirmed"]
    found = sum(any(fits(cause, row) for row in confirmed) for cause in causes)
    false = 0
    for row in confirmed:
        fit = max((fits(one, row) for one in causes + links), default=0)
        false += fit == 0 or fit < max((fits(one, row) for one in others), default=0)
    figures.note("causes", right=found, missed=len(causes) - found, extra=false)


def _totals(rows: list[Row]) -> dict[tuple[Any, ...], tuple[int, int]]:
    totals: dict[tuple[Any, ...], list[int]] = defaultdict(lambda: [0, 0])
    for row in rows:
        both = totals[plain(row["kind"]).split()[-1], _size(row)]
        both[0] += row["removed"]
        both[1] += row["installed"]
    return {key: (off, on) for key, (off, on) in totals.items() if off or on}


def score_ledger(gold: Row, rows: list[Row], figures: Figures) -> None:
    """Fastener totals."""
    given, wanted = _totals(rows), _totals(gold["fasteners"])
    free = set(_totals([row for row in gold["fasteners"] if row.get("optional")]))
    others: dict[Any, list[tuple[int, int]]] = defaultdict(list)
    for row in gold["fasteners"]:
        for ok in row.get("ok", []):
            others[plain(row["kind"]).split()[-1], _size(row)].append((ok["removed"], ok["installed"]))
    asked = wanted.keys() - free
    right = sum(given.get(key) in [wanted[key], *others[key]] for key in asked)
    extra = len(given.keys() - free) - right
    figures.note("fastener ledger", right=right, missed=len(asked) - right, extra=extra)


def score_measurements(gold: Row, rows: list[Row], figures: Figures) -> None:
    """Readings of the record's list."""
    given = {amount(row["value"], row["unit"]) for row in rows}
    asked, accepted = set(), set()
    entities = [e for u in gold["utterances"].values() for e in u["entities"] if e["type"] == "measurement"]
    for row in [*gold["measurements"], *entities]:
        accepted |= {amount(row["value"], unit) for unit in row.get("unit_ok", [row["unit"]])}
    for row in gold["measurements"]:
        if not row.get("optional"):
            asked.add(frozenset(amount(row["value"], unit) for unit in row.get("unit_ok", [row["unit"]])))
    right = sum(bool(units & given) for units in asked)
    figures.note("measurements", right=right, missed=len(asked) - right, extra=len(given - accepted))


def score(gold: Row, record: Row, figures: Figures) -> None:
    """All figures of one narration, added up."""
    rows = {str(row["id"]): row for row in record["utterances"]}
    for number, wanted in gold["utterances"].items():
        row = rows.get(number, {"acts": [], "entities": []})
        score_acts(wanted, set(row["acts"]), figures)
        score_entities(wanted["entities"], row["entities"], figures)
    score_suspects(gold, record["hypotheses"], figures)
    score_ledger(gold, record["fasteners"], figures)
    score_measurements(gold, record["measurements"], figures)
