"""What was said in a session, as Markdown: every line with its time, nothing left out."""

from __future__ import annotations

import re

from narrator.job.record import Record, UtteranceRow
from narrator.sheet.markdown import escape

_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]+")


def to_markdown(record: Record, title: str) -> str:
    """A heading and one list item an utterance or gap, in order of time; a struck one is crossed out."""
    lines = [(u.start, f"- {_clock(u.start)} {_said(u)}") for u in record.utterances]
    lines += [
        (g.start, f"- {_clock(g.start)} *{g.end - g.start:.1f} s without sound: {_plain(g.reason)}*")
        for g in record.gaps
    ]
    return f"## {_plain(title)}\n\n" + "".join(f"{line}\n" for _, line in sorted(lines, key=lambda x: x[0]))


def _plain(text: str) -> str:
    return escape(_CONTROL.sub(" ", text))


def _said(row: UtteranceRow) -> str:
    clean = _plain(row.clean)
    if row.struck:
        return f"~~{clean}~~ (struck)" if clean else "(struck)"
    if row.added:
        return f"{clean} (added, not said)"
    return clean if row.corrected is None else f"{clean} (corrected; heard: “{_plain(row.text)}”)"


def _clock(seconds: float) -> str:
    whole = max(0, int(seconds))
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}"
