"""Proofreads annotated narrations: what is wrong, and what is worth a person's glance."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from pydantic import ValidationError

from models.understanding.narrations.build import HERE, ledger, utterances
from models.understanding.narrations.markup import ACT_LETTERS, Line, MarkupError, parse_text
from models.understanding.narrations.schema import Narration, Tagged, read

BRANDS = frozenset((HERE / "brands.sha256").read_text(encoding="ascii").split())
"""First 16 hex digits of the SHA-256 of words that are real brands, so that none stands in the repository."""
OFF_LIMITS = re.compile(r"\b(shifter|shift cable|gear ?(selector|lever|shift)|park lock)", re.IGNORECASE)
_WORDS = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen"
    " seventeen eighteen nineteen twenty"
)
_SAID = {word: n for n, word in enumerate(_WORDS.split())} | {
    "both": 2, "pair": 2, "couple": 2, "to": 2, "too": 2, "for": 4, "ate": 8, "dozen": 12, "trio": 3,
    "twice": 2,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Finding:
    """One remark; ``wrong`` is False for what a person should merely look at."""

    name: str
    text: str
    wrong: bool = True

    def __str__(self) -> str:
        return f"{'WRONG' if self.wrong else 'look '} {self.name}: {self.text}"


def _numbers(text: str) -> set[int]:
    words = re.findall(r"[a-z]+", text.lower())
    return {_SAID[w] for w in words if w in _SAID} | {int(n) for n in re.findall(r"\d+", text)} | {1}


def is_brand(word: str) -> bool:
    """Whether a word is a real brand: none is written down in the project."""
    return hashlib.sha256(word.encode()).hexdigest()[:16] in BRANDS


def _wording(narration: Narration, lines: list[Line]) -> Iterator[str]:
    for uid, line in enumerate(lines, 1):
        if narration.form != "punctuated" and not re.fullmatch(r"[a-z' ]+", line.said):
            yield f"{uid} is not as a recognizer writes: {line.said}"
        if line.slip_words and narration.form != "slips":
            yield f"{uid} has a slip though the form is {narration.form}"
    whole = (
        " ".join(line.meant for line in lines) + f" {narration.title} {narration.note} {narration.vehicle}"
    )
    if found := OFF_LIMITS.search(whole):
        yield f"off limits: {found[0]}"
    yield from (f"real brand: {w}" for w in sorted(set(re.findall(r"[a-z]+", whole.lower()))) if is_brand(w))
    if not 35 <= len(lines) <= 75:
        yield f"{len(lines)} utterances"
    words = sum(len(line.meant.split()) for line in lines)
    if narration.form == "slips" and not 0.03 <= sum(line.slip_words for line in lines) / words <= 0.1:
        yield f"{sum(line.slip_words for line in lines)} slips in {words} words"


def _spans(lines: list[Line]) -> Iterator[str]:
    for uid, line in enumerate(lines, 1):
        if line.acts[0] == ["aside"] and any(not e.get("optional") for e in line.entities):
            yield f"{uid} is an aside with entities"
        if len({tuple(a) for a in line.acts}) != len(line.acts):
            yield f"{uid} repeats an alternative"
        heard = _numbers(line.meant)
        for entity in line.entities:
            if (
                entity["type"] == "fastener"
                and not entity.get("optional")
                and (entity["count"] or 1) not in heard
            ):
                yield f"{uid} count {entity['count']} not heard: {line.meant}"


def _ledger(narration: Narration, lines: list[Line]) -> Iterator[str]:
    found = {key: tuple(row) for key, row in ledger(lines).items()}
    for key in sorted(found.keys() | narration.ledger_expect.keys()):
        if found.get(key) != narration.ledger_expect.get(key):
            yield f"ledger {key}: marked {found.get(key)}, expected {narration.ledger_expect.get(key)}"
    for key in {*narration.ledger_ok, *narration.ledger_optional} - found.keys():
        yield f"ledger names {key}, which no line marks"
    for uid, line in enumerate(lines, 1):
        for event in line.events:
            if not any("step" in acts for acts in line.acts):
                yield f"{uid} has a ledger event but is no step"
            if not any(e["type"] == "fastener" and e["kind"] == event.kind for e in line.entities):
                yield f"{uid} has a ledger event without a {event.kind}"


def _tables(narration: Narration, lines: list[Line]) -> Iterator[str]:
    tags = Counter(line.tag for line in lines if line.tag)
    yield from (f"tag {tag} stands twice" for tag, n in tags.items() if n > 1)
    tables: list[Tagged] = [*narration.tests, *narration.corrections, *narration.verifications]
    used = {tag for table in tables for tag in table.tags}
    yield from (f"tag {tag} is used but not set" for tag in sorted(used - tags.keys()))
    yield from (f"tag {tag} is set but not used" for tag in sorted(tags.keys() - used))
    checked = {tag for table in [*narration.tests, *narration.verifications] for tag in table.tags}
    for uid, line in enumerate(lines, 1):
        kinds = {act for acts in line.acts for act in acts}
        if line.tag in checked and not kinds & {"test", "result", "verification", "observation"}:
            yield f"{uid} is listed as a check but its acts are {line.acts}"
        if {"test", "result", "verification"} & set(line.acts[0]) and line.tag not in checked:
            yield f"{uid} checks something but belongs to no test or verification: {line.meant}"
    last = narration.verifications[-1].outcome if narration.verifications else "none"
    if narration.verification != last:
        yield f"verification {narration.verification}, but the last one listed is {last}"
    confirmed = [h.keywords for h in narration.hypotheses if h.status == "confirmed"]
    yield from (f"cause {c} is no confirmed suspect" for c in narration.causes if c not in confirmed)


def _glances(narration: Narration, lines: list[Line]) -> Iterator[str]:
    whole = " ".join(line.meant.lower() for line in lines)
    lists = [
        *narration.open_items,
        *(h.keywords for h in narration.hypotheses),
        *(t.keywords for t in narration.tests),
    ]
    for keyword in (k for keywords in lists for k in keywords):
        if not any(re.search(rf"\b{re.escape(a)}", whole) for a in keyword.split("|")):
            yield f"keyword never said: {keyword}"
    numbers = {part.number for part in narration.parts} | {None}
    for uid, line in enumerate(lines, 1):
        for entity in line.entities:
            if entity["type"] == "part_number" and entity["number"] not in numbers:
                yield f"{uid} number {entity['number']} belongs to no part"
            if entity["type"] == "component" and not entity.get("optional"):
                flat = line.meant.lower() + " " + re.sub(r"\b(\w) (?=\w\b)", r"\1", line.meant.lower())
                missing = [w for w in re.findall(r"\w+", entity["name"]) if w[:4] not in flat]
                if missing:
                    yield f"{uid} component {entity['name']} not said: {line.meant}"


def proofread(path: Path) -> list[Finding]:
    """Every finding in one source, what is wrong first."""
    name = path.stem
    try:
        narration = read(path)
        lines = parse_text(narration.text)
    except (MarkupError, ValidationError, ValueError) as error:
        return [Finding(name, str(error))]
    wrong = [
        *_wording(narration, lines),
        *_spans(lines),
        *_ledger(narration, lines),
        *_tables(narration, lines),
    ]
    rows = utterances(name, lines)
    wrong += [f"{b['id']} starts too early" for a, b in pairwise(rows) if a["end"] > b["start"]]
    return [Finding(name, w) for w in wrong] + [Finding(name, g, False) for g in _glances(narration, lines)]


def report(paths: list[Path]) -> int:
    """Prints all findings and a count of the acts; 1 when anything is wrong."""
    findings = [finding for path in paths for finding in proofread(path)]
    print(*findings, sep="\n")
    if any(finding.wrong for finding in findings):
        return 1
    lines = [line for path in paths for line in parse_text(read(path).text)]
    acts = Counter(act for line in lines for act in line.acts[0])
    print(
        f"{len(paths)} narrations, {len(lines)} utterances, {sum(len(x.meant.split()) for x in lines)} words"
    )
    print(*(f"{act} {acts[act]}" for act in ACT_LETTERS.values()), sep="  ")
    return 0
