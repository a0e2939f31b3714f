"""Hold a record against the facts that a person wrote down by hand in a sample's ``check.toml``.

Every section of the file has a checker below; each yields a sentence for every fact that the record lacks.
``about`` is matched word for word from word starts, so that "fuel pump" finds "weak fuel pumps".
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from typing import Any

Row = dict[str, Any]


def misses(record: Row, facts: Row) -> list[str]:
    """Everything that ``facts`` asks for and ``record`` does not hold; empty when all is there."""
    unknown = set(facts) - set(_SECTIONS)
    if unknown:
        raise ValueError(f"check.toml has sections that nothing checks: {sorted(unknown)}")
    return [miss for name, wanted in facts.items() for miss in _SECTIONS[name](record, wanted)]


def _about(text: str, words: str) -> bool:
    return re.search(r"\b" + re.escape(words), text.lower()) is not None


def _text(row: Row, *names: str) -> str:
    return " ".join(str(row.get(name) or "") for name in names).lower()


def _vehicle(record: Row, wanted: Row) -> Iterator[str]:
    for name, value in wanted.items():
        given = record["vehicle"][name]
        if (given.lower() if name in {"make", "model"} and given else given) != value:
            yield f"vehicle: {name} is {given!r}, not {value!r}"


def _suspects(record: Row, wanted: list[Row]) -> Iterator[str]:
    for want in wanted:
        found = [
            row for row in record["hypotheses"]
            if _about(_text(row, "component", "statement"), want["about"])
            and not ("not_about" in want and _about(_text(row, "component", "statement"), want["not_about"]))
        ]  # fmt: skip
        if not found:
            yield f"suspect: nothing about {want['about']!r}"
        elif not any(row["status"] == want["status"] and _passed(row, want) for row in found):
            seen = [[step["status"] for step in row["history"]] for row in found]
            yield f"suspect: {want['about']!r} should end {want['status']}, went {seen}"


def _passed(row: Row, want: Row) -> bool:
    """Whether the suspect's history holds the wanted states in that order."""
    states = iter(step["status"] for step in row["history"])
    return all(state in states for state in want.get("passed_through", []))


def _confirmed_only(record: Row, allowed: list[str]) -> Iterator[str]:
    for row in record["hypotheses"]:
        text = _text(row, "component", "statement")
        if row["status"] == "confirmed" and not any(_about(text, words) for words in allowed):
            yield f"suspect: {row['statement']!r} is confirmed, and nobody settled that"


def _tests(record: Row, wanted: list[Row]) -> Iterator[str]:
    suspects = {row.get("id"): row["component"] or "" for row in record["hypotheses"]}
    for want in wanted:
        found = [
            row
            for row in record["tests"]
            if _about(_text(row, "component", "procedure", "result"), want["about"])
            or any(_about(suspects[ident], want["about"]) for ident in row.get("hypotheses", ()))
        ]
        if not any(row["outcome"] == want["outcome"] for row in found):
            seen = [row["outcome"] for row in found]
            yield f"test: {want['about']!r} should {want['outcome']}, found {seen}"


def _fasteners(record: Row, wanted: list[Row]) -> Iterator[str]:
    for want in wanted:
        found = [
            row for row in record["fasteners"]
            if row["kind"] == want["kind"] and row["size"] == want["size"]
            and _about(_text(row, "location"), want.get("where", ""))
        ]  # fmt: skip
        counts = [(row["removed"], row["installed"]) for row in found]
        if (want["removed"], want["installed"]) not in counts:
            yield f"fastener: {want} is counted {counts} (removed, installed)"


def _parts(record: Row, wanted: list[Row]) -> Iterator[str]:
    for want in wanted:
        found = [row for row in record["parts"] if _about(_text(row, "name"), want["about"])]
        if not any(
            row["number"] == want.get("number", row["number"])
            and (row["price"] or {}).get("amount") == want.get("price", (row["price"] or {}).get("amount"))
            and row["state"] == want.get("state", row["state"])
            for row in found
        ):
            yield f"part: {want} is not among {found}"


def _readings(record: Row, wanted: list[Row]) -> Iterator[str]:
    for want in wanted:
        if not _read(record, want):
            yield f"reading: {want['value']} {want['unit']} is missing"


def _never_read(record: Row, unwanted: list[Row]) -> Iterator[str]:
    for row in unwanted:
        if _read(record, row):
            yield f"reading: {row['value']} {row['unit']} was taken back by the speaker and is still there"


def _read(record: Row, want: Row) -> bool:
    return any(
        row["value"] == want["value"] and row["unit"] == want["unit"] for row in record["measurements"]
    )


def _codes(record: Row, wanted: list[Row]) -> Iterator[str]:
    said = {e.get("code") for row in record["utterances"] for e in row["entities"] if e["type"] == "dtc"}
    for want in wanted:
        if want["code"] not in said:
            yield f"code: {want['code']} is missing among {sorted(map(str, said))}"


def _lines(section: str) -> Callable[[Row, list[Row]], Iterator[str]]:
    def check(record: Row, wanted: list[Row]) -> Iterator[str]:
        for want in wanted:
            if not any(_about(_text(row, "text"), want["about"]) for row in record[section]):
                yield f"{section}: nothing about {want['about']!r} in {json.dumps(record[section])}"

    return check


def _asides(record: Row, wanted: list[Row]) -> Iterator[str]:
    rows = {row["id"]: row for row in record["utterances"]}
    for want in wanted:
        row = rows[want["utterance"]]
        if row["acts"] != ["aside"]:
            yield f"aside: utterance {row['id']} ({row['text']!r}) does {row['acts']}"


def _verification(record: Row, wanted: str) -> Iterator[str]:
    outcomes = [row["outcome"] for row in record["verifications"]]
    if outcomes[-1:] != [wanted]:
        yield f"verification: should end in {wanted!r}, went {outcomes}"


_SECTIONS: dict[str, Callable[[Row, Any], Iterator[str]]] = {
    "vehicle": _vehicle,
    "suspect": _suspects,
    "confirmed_only": _confirmed_only,
    "test": _tests,
    "fastener": _fasteners,
    "part": _parts,
    "reading": _readings,
    "never_read": _never_read,
    "code": _codes,
    "caution": _lines("cautions"),
    "open_item": _lines("open_items"),
    "aside": _asides,
    "verification": _verification,
}
