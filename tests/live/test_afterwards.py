"""What a crash left undone of the spoken commands is done when the session is recovered."""

from __future__ import annotations

from pathlib import Path

from narrator.live.afterwards import Afterwards
from narrator.live.commands import TextControl
from narrator.live.grammar import read_commands
from narrator.paths import GRAMMARS
from narrator.session import compile_facts
from narrator.store import Reader, Writer
from narrator.store.rows import Facts, NewSession
from narrator.values import Utterance
from tests.live.helpers import WALL, facts

KEPT = [
    "Battery voltage is twelve point two volts at rest.",
    "Attention please, correct that to twelve point six volts.",
    "The radio is on.",
]
HEARD_NOW = [
    "Attention please, strike that.",
    "Yes.",
    "Attention please, mark this odd rattle.",
    "Attention please, begin job two thousand nine Ardenna Volo.",
    "The left brake is dragging.",
]


def recovered(home: Path) -> Facts:
    control = TextControl(read_commands(GRAMMARS / "commands.jsgf"))
    lines = [Utterance(i, i * 5.0, i * 5.0 + 2, text) for i, text in enumerate([*KEPT, *HEARD_NOW], 1)]
    with Writer(home) as writer:
        session = writer.start_session(NewSession(WALL, "Bench USB mic", "scripted"))
        writer.add_utterances(session, lines[: len(KEPT)])
        with Reader(home) as reader:
            after = Afterwards(writer, reader.facts(session), control)
        for one in lines[len(KEPT) :]:
            writer.add_utterances(session, [one])
            after.take(one)
        with Reader(home) as reader:
            once = reader.facts(session)
        Afterwards(writer, once, control)
    assert facts(home, session).version == once.version, "what was done is not done again"
    return once


def test_commands_that_a_crash_cut_off_are_carried_out(tmp_path: Path) -> None:
    one = recovered(tmp_path)
    assert [u.text for u in one.utterances] == [*KEPT, *HEARD_NOW]
    record = compile_facts(one)
    assert [(row.corrected or row.text, row.struck) for row in record.utterances] == [
        ("Battery voltage is twelve point six volts at rest.", False),
        ("The radio is on.", True),
        ("The left brake is dragging.", False),
    ]
    assert [m.value for m in record.measurements] == [12.6]
    assert [(mark.at, mark.text) for mark in one.marks] == [
        (30.0, "odd rattle"),
        (35.0, "another job begins: 2009 Ardenna Volo"),
    ]
