"""How a sheet says when a line was said, how sure it is, and how something ended."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from narrator.job.record import FastenerRow, HypothesisRow, LookRow, Record, UtteranceRow
from narrator.sheet import units

OUTCOMES = {"pass": "found good", "fail": "found bad", "inconclusive": "not settled"}
VERIFIED = {"pass": "passed", "fail": "did not pass"}
ENDED = {"open": "still open, not proved", "ruled_out": "cleared", "confirmed": "confirmed as a cause"}
DEEDS = {
    "replace": "replaced", "adjust": "adjusted", "clean": "cleaned", "repair": "repaired",
    "lubricate": "lubricated", "tighten": "tightened", "refit": "refitted", "seal": "sealed",
    "bleed": "bled", "remove": "removed", "disconnect": "disconnected",
}  # fmt: skip
NOT_SAID = "added by a person, not said"
CONTEXT_UNIT = "unit supplied from context"


def clock(seconds: float) -> str:
    """A time from the session's start as ``mm:ss``, from one hour on as ``h:mm:ss``."""
    whole = max(0, int(seconds))
    hours, rest = divmod(whole, 3600)
    minutes, second = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{second:02d}" if hours else f"{minutes:02d}:{second:02d}"


def counted(count: int, noun: str) -> str:
    """``1 bolt``, ``3 bolts``, ``2 switches``."""
    if count == 1:
        return f"1 {noun}"
    return f"{count} {noun}{'es' if noun.endswith(('s', 'x', 'ch', 'sh')) else 's'}"


def sentence(text: str) -> str:
    """Text with its first letter raised; the rest as it was said."""
    text = text.strip()
    return text[:1].upper() + text[1:]


class Moment(str):
    """A time as it is printed, which remembers the line that it stands for."""

    utterance: int

    def __new__(cls, text: str, utterance: int) -> Moment:
        """The printed text, and the number of the utterance."""
        made = super().__new__(cls, text)
        made.utterance = utterance
        return made

    def __deepcopy__(self, memo: object) -> Moment:
        return self


class Said:
    """Looks up what the sheet's lines came from: when each was said and how sure it is."""

    def __init__(self, record: Record) -> None:
        self.rows: dict[int, UtteranceRow] = {u.id: u for u in record.utterances}
        self._looks: dict[int, list[LookRow]] = defaultdict(list)
        for look in record.looks:
            self._looks[look.utterance].append(look)

    def text(self, utterance: int) -> str:
        """The readable words of an utterance, or nothing when the record does not hold it."""
        row = self.rows.get(utterance)
        return sentence(row.clean or row.corrected or row.text) if row else ""

    def time(self, *utterances: int) -> str:
        """When the first of the utterances began (a ``Moment``), or nothing."""
        known = [u for u in utterances if u in self.rows]
        if not known:
            return ""
        first = min(known, key=lambda u: self.rows[u].start)
        return Moment(clock(self.rows[first].start), first)

    def start(self, utterance: int) -> float:
        """Seconds at which an utterance began; 0 when the record does not hold it."""
        return self.rows[utterance].start if utterance in self.rows else 0.0

    def sure(self, utterances: Iterable[int], *doubts: str) -> str:
        """How sure a line is, in words: what was mended, supplied or doubted, else ``as heard``."""
        words = list(doubts)
        rows = [self.rows[u] for u in dict.fromkeys(utterances) if u in self.rows]
        if any(row.added for row in rows):
            words.append(NOT_SAID)
        if any(row.corrected for row in rows):
            words.append("corrected by a person")
        if any(row.repairs for row in rows):
            words.append("a word was read as meant")
        if any(self._looks[row.id] for row in rows):
            words.append("needs a look")
        return ", ".join(dict.fromkeys(words)) or "as heard"


def fastener_name(row: FastenerRow) -> str:
    """A group's name without its count: ``10 mm hex bolt``."""
    drive = (
        row.drive if row.drive and not (row.size and row.size.unit == "T" and row.drive == "torx") else None
    )
    size = units.size(row.size.value, row.size.unit) if row.size else None
    return " ".join(part for part in (size, drive, row.kind) if part)


def fastener_end(row: FastenerRow) -> tuple[str, bool]:
    """How a group ended, and whether that wants the eye."""
    left = row.removed - row.installed
    if left > 0:
        return f"{left} LEFT OVER: {row.installed} of {row.removed} narrated as refitted", True
    if left < 0:
        return f"{-left} more fitted than came off", True
    return "all refitted" if row.removed else "none moved", False


def phrase(text: str) -> str:
    """A sentence without its full stop, to be set inside a line of the sheet's own."""
    text = sentence(text)
    return text if text.endswith("..") else text.removesuffix(".")


def suspect_name(row: HypothesisRow) -> str:
    """What to call a suspect: the component and its fault; by its statement where it has no component."""
    if not row.component:
        return phrase(row.statement)
    return phrase(f"{row.component}: {row.fault}" if row.fault else row.component)


def suspect_said(row: HypothesisRow) -> str:
    """The statement in quotes, where the suspect goes by another name; else nothing."""
    same = suspect_name(row).replace(":", "").lower() == phrase(row.statement).lower()
    return "" if same else f"“{phrase(row.statement)}”"


def deed(action: str) -> str:
    """A correction's action as done: ``replace`` is ``replaced``."""
    return DEEDS.get(action, action)
