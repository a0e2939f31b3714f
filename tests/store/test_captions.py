"""WebVTT: the structure that the W3C specification asks of a file (section 4, syntax).

Seen as: WEBVTT line, blank line, blocks parted by blank lines, each an identifier, a timings line and text
in which & and < are escaped and --> does not occur; starts never decrease and every end is after its start.
"""

from __future__ import annotations

import html
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from narrator.store.captions import timestamp, to_webvtt
from narrator.values import Utterance

TIMINGS = re.compile(r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3}) --> (\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})")
VOICE = re.compile(r"<v ([^<>\n]+)>")

times = st.floats(0, 400_000, allow_nan=False)
spoken = st.builds(
    Utterance,
    id=st.integers(0, 10_000),
    start=times,
    end=times,
    text=st.text(max_size=40),
    words=st.just(()),
    speaker=st.none() | st.text(max_size=8),
)


def cues(text: str) -> list[tuple[str, int, int, str]]:
    """A strict reader of the subset that we write."""
    assert text.startswith("WEBVTT\n") and text.endswith("\n")
    head, *blocks = text[:-1].split("\n\n")
    assert head == "WEBVTT"
    found = []
    for block in blocks:
        ident, timings, payload = block.split("\n")
        match = TIMINGS.fullmatch(timings)
        assert match, timings
        h1, m1, s1, t1, h2, m2, s2, t2 = map(int, match.groups())
        start, end = ((h1 * 60 + m1) * 60 + s1) * 1000 + t1, ((h2 * 60 + m2) * 60 + s2) * 1000 + t2
        assert start < end
        assert "-->" not in ident and "-->" not in payload
        if voice := VOICE.match(payload):
            payload = payload[voice.end() :]
        assert payload and not re.search(r"[<>\r\n]|&(?!(amp|lt|gt);)", payload)
        found.append((ident, start, end, payload))
    assert [cue[1] for cue in found] == sorted(cue[1] for cue in found)
    return found


@given(st.lists(spoken, max_size=8))
def test_every_file_is_well_formed_and_says_what_was_said(said: list[Utterance]) -> None:
    found = cues(to_webvtt(said))
    expected = [re.sub(r"[\x00-\x20\x7f]+", " ", u.text).strip() for u in sorted(said, key=lambda u: u.start)]
    assert [html.unescape(cue[3]) for cue in found] == [text for text in expected if text]


def test_a_voice_and_signs() -> None:
    text = to_webvtt([Utterance(7, 3661.0005, 3662.5, "a < b & c --> d\n\nNOTE", (), "Ana & Co")])
    assert text == (
        "WEBVTT\n\n7\n01:01:01.000 --> 01:01:02.500\n<v Ana &amp; Co>a &lt; b &amp; c --&gt; d NOTE\n"
    )


@pytest.mark.parametrize(
    ("milliseconds", "expected"),
    [(0, "00:00:00.000"), (59_999, "00:00:59.999"), (60_000, "00:01:00.000"), (360_000_001, "100:00:00.001")],
)
def test_timestamps(milliseconds: int, expected: str) -> None:
    assert timestamp(milliseconds) == expected


def test_no_utterances_is_a_file_without_cues() -> None:
    assert to_webvtt([]) == "WEBVTT\n"
