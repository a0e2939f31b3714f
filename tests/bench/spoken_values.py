"""Values of a spoken line for ``tests.bench.spoken``: as words, in every way of saying a figure, and as the
program understands them."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from functools import lru_cache
from itertools import product

from narrator.hearing.readings import readings
from narrator.job.compile import compile_record
from narrator.language import Reader
from narrator.looks import queue
from narrator.utterances import parse_lines
from narrator.values import Utterance, Word

_DASHED = re.compile(r"(?<=[A-Za-z]-)(\d{3,})")
"""The digits of a part number such as OF-3307."""
_ENDING = re.compile(r"(?<=\.\d)0(?=\D*$)")
"""The last nought of a sum such as 132.50, which some voices leave out."""
_MOST = 40
_HEARD = {"faint", "ears", "sound", "pace", "again"}
"""Looks that are asked for because of how a line was heard."""
_KEYS = {
    "measurement": ("value", "unit"), "fastener": ("kind", "count", "size"), "troublecode": ("code",),
    "partnumber": ("number",), "price": ("amount",), "vin": ("vin",), "odometer": ("value",),
}  # fmt: skip


def ways(text: str) -> list[str]:
    """A line in every way in which its figures may be said (some 40 at most): which one a synthesizer takes
    is not known."""
    parts = _DASHED.sub(r" \1 ", text).split()
    choices = [
        tuple(dict.fromkeys((*readings(part), *readings(_ENDING.sub("", part))))) or (part,) for part in parts
    ]
    rows: list[str] = []
    for row in product(*choices):
        rows.append(" ".join(row))
        if len(rows) == _MOST:
            break
    return [text, *rows]


@lru_cache(maxsize=8192)
def understood(text: str) -> Counter[tuple[str, ...]]:
    """Fasteners, readings, codes, part numbers, prices, VIN and odometer of a line, with what matters of
    each; durations are left out."""
    line = json.dumps({"id": 1, "start": 0.0, "end": 3.0, "text": text or "..."})
    found: Counter[tuple[str, ...]] = Counter()
    for one in Reader().read(list(parse_lines([line]))):  # a new one: it keeps the story of what it read
        for entity in one.entities:
            kind, fields = type(entity).__name__.lower(), asdict(entity)
            if kind in _KEYS and fields.get("quantity") != "time":
                found[(kind, *(str(fields.get(key)) for key in _KEYS[kind]))] += 1
    return found


def asks(words: Sequence[Word]) -> bool:
    """Whether a line heard so comes up for a look because of how it was heard."""
    if not words:
        return False
    line = Utterance(1, words[0].start, words[-1].end, " ".join(word.word for word in words), tuple(words))
    read = list(Reader().read([line]))
    return any(one.kind in _HEARD for one in queue(read, compile_record(read), [line]))
