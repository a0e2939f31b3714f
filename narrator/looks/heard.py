"""Signals in how a line was heard: unsure words, an unlikely pace, words caught in a loop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence

from narrator.values import Look, Utterance

Say = Callable[..., Look]
_LONG = 3.0
"""Seconds from which on a line's pace tells anything."""
_LOOP = 4


def heard_looks(utterances: Sequence[Utterance], limits: dict[str, float], say: Say) -> Iterator[Look]:
    """Findings of every line, in order."""
    for one in utterances:
        words = one.text.split()
        faint = [(word.conf, word.word) for word in one.words if word.conf is not None]
        if faint and min(faint)[0] < limits["faint"]:
            yield say("faint", one.id, None, word=min(faint)[1])
        seconds = one.end - one.start
        if one.words and seconds >= _LONG:
            pace = len(words) / seconds
            if pace > limits["quick"] or pace < limits["slow"]:
                yield say("pace", one.id, None, words=len(words), seconds=f"{seconds:.0f}")
        if loop := _loop(words):
            yield say("again", one.id, None, words=loop)


def _loop(words: Sequence[str]) -> str:
    """Three words in a row that stand there four times over or more."""
    threes = Counter(" ".join(words[i : i + 3]).lower() for i in range(len(words) - 2))
    phrase, times = threes.most_common(1)[0] if threes else ("", 0)
    return phrase if times >= _LOOP else ""
