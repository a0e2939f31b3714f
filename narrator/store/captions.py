"""Captions of what was said, as WebVTT (W3C: WebVTT, the Web Video Text Tracks Format)."""

from __future__ import annotations

import re
from collections.abc import Iterable

from narrator.store.rows import ADDED
from narrator.values import Utterance

_ESCAPES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;"})
_BLANK = re.compile(r"[\x00-\x20\x7f]+")


def to_webvtt(utterances: Iterable[Utterance]) -> str:
    """One cue an utterance, its id as the cue's, its speaker as a voice; empty and added ones are left out.

    Cues are put in order of start, as the format wants; one that would end where it starts lasts 1 ms.
    """
    blocks = ["WEBVTT"]
    for one in sorted(utterances, key=lambda u: u.start):
        text = _cue_text(one.text)
        if not text or one.engine == ADDED:
            continue
        start = max(0, round(one.start * 1000))
        end = max(start + 1, round(one.end * 1000))
        voice = f"<v {_cue_text(one.speaker)}>" if one.speaker and _cue_text(one.speaker) else ""
        blocks.append(f"{one.id}\n{timestamp(start)} --> {timestamp(end)}\n{voice}{text}")
    return "\n\n".join(blocks) + "\n"


def timestamp(milliseconds: int) -> str:
    """Hours (two digits or more), minutes, seconds and thousandths: ``00:01:02.345``."""
    seconds, thousandths = divmod(milliseconds, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02}.{thousandths:03}"


def _cue_text(text: str) -> str:
    """One line with the format's signs escaped; that also rules out its arrow."""
    return _BLANK.sub(" ", text).strip().translate(_ESCAPES)
