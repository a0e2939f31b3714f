"""Utterances as JSON Lines: reading with coded errors, and writing."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from typing import Any

from narrator.errors import NarratorError
from narrator.values import Utterance, Word


def parse_lines(lines: Iterable[str]) -> Iterator[Utterance]:
    """Yield the utterance of each non-empty line.

    Raises:
        NarratorError: E401 naming the line that is not an utterance.
    """
    for number, line in enumerate(lines, start=1):
        if line.strip():
            yield _parse(line, number)


def _parse(line: str, number: int) -> Utterance:
    try:
        row = json.loads(line)
    except ValueError as error:
        raise NarratorError("E401", line=number, why=f"not JSON ({error})") from error
    if not isinstance(row, dict):
        raise NarratorError("E401", line=number, why="not a JSON object")
    if not isinstance(row.get("text"), str):
        raise NarratorError("E401", line=number, why='"text" must be a string')
    ident = row.get("id")
    if isinstance(ident, bool) or not isinstance(ident, int):
        raise NarratorError("E401", line=number, why='"id" must be a whole number')
    start, end = _seconds(row, "start", number), _seconds(row, "end", number)
    text = row["text"].encode("utf-8", "replace").decode("utf-8")  # lone surrogates cannot be written back
    words = tuple(_words(row.get("words"), number))
    speaker, engine, timing = row.get("speaker"), row.get("engine"), row.get("timing")
    return Utterance(
        ident,
        start,
        end,
        text,
        words,
        speaker if isinstance(speaker, str) else None,
        engine if isinstance(engine, str) else None,
        timing if timing in ("aligned", "estimated") else None,
    )


def _seconds(row: dict[str, Any], key: str, number: int) -> float:
    value = row.get(key)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise NarratorError("E401", line=number, why=f'"{key}" must be a number of seconds')
    return float(value)


def _words(rows: object, number: int) -> Iterator[Word]:
    if rows is None:
        return
    if not isinstance(rows, list):
        raise NarratorError("E401", line=number, why='"words" must be a list')
    for row in rows:
        if not isinstance(row, dict) or not isinstance(row.get("word"), str):
            raise NarratorError("E401", line=number, why='each of "words" needs a "word"')
        conf = row.get("conf")
        known = isinstance(conf, (int, float)) and not isinstance(conf, bool)
        yield Word(
            row["word"],
            _seconds(row, "start", number),
            _seconds(row, "end", number),
            float(conf) if known and conf is not None else None,
            row["other"] if isinstance(row.get("other"), str) else None,
        )


def to_json(utterance: Utterance) -> dict[str, Any]:
    """One utterance as the JSON object of the contract's input."""
    row: dict[str, Any] = {
        "id": utterance.id,
        "start": round(utterance.start, 3),
        "end": round(utterance.end, 3),
        "text": utterance.text,
    }
    if utterance.words:
        row["words"] = [
            {"word": w.word, "start": round(w.start, 3), "end": round(w.end, 3)}
            | ({} if w.conf is None else {"conf": round(w.conf, 3)})
            | ({} if w.other is None else {"other": w.other})
            for w in utterance.words
        ]
    if utterance.speaker:
        row["speaker"] = utterance.speaker
    if utterance.engine:
        row["engine"] = utterance.engine
    if utterance.timing:
        row["timing"] = utterance.timing
    return row
