"""What a check gave, in plain words: a fault denied went well, one that goes on or came back did not."""

from __future__ import annotations

import pytest

from narrator.job.plain_result import plainly
from narrator.language.tokens import split_words

GOOD = [
    "took it up the hill three times, never cut out",
    "no smoke no noise",
    "it stopped leaking",
    "codes stayed away",
    "knock's not come back",
    "nothing back after a run up the bypass",
    "headlights steady and no flicker",
    "starts first kick",
    "let it idle half an hour, no oil",
    "brakes pull up square",
    "knocked at first but no knock now",
]
BAD = [
    "cleared it and drove it, code came straight back",
    "went round the block, still knocks",
    "cleared it and it came back on the way home",
    "it's no better",
    "doesn't leak but it still knocks",
    "started first time but stalled again",
    "it's worse now",
    "brakes are spongy still",
    "pedal goes to the floor",
    "it still pulls to the left",
]
UNTOLD = [
    "it never stopped leaking",
    "power's back on",
    "it doesn't just leak it pours",
    "cut the grass twice no bother",
    "never missed till i got back then it cut out",
    "not leaking as bad",
    "no oil pressure",
    "cleared the jet and put it back",
    "no, it leaks",
]


@pytest.mark.parametrize(
    ("said", "well"), [*((s, True) for s in GOOD), *((s, False) for s in BAD), *((s, None) for s in UNTOLD)]
)
def test_plain_words_tell_how_it_went(said: str, well: bool | None) -> None:
    notes = split_words(said)
    assert plainly(notes.words, notes.marks) is well
