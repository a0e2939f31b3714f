from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from narrator.errors import NarratorError
from narrator.hearing.control import (
    SURE,
    SURE_CALLED,
    SURE_SECONDED,
    SURE_SECONDED_FREE,
    SURE_UNBORNE,
    Command,
)
from narrator.hearing.segmenter import Segment
from narrator.live.commands import ARMED_S, TextControl, plain_words
from narrator.live.grammar import grammar_path, read_commands
from narrator.paths import GRAMMARS
from narrator.settings import Settings
from narrator.utterances import parse_lines
from narrator.values import Utterance, Word

ROOT = Path(__file__).parents[2]
COMMANDS = read_commands(GRAMMARS / "commands.jsgf")


def said(text: str, start: float = 100.0) -> Utterance:
    return Utterance(1, start, start + 2.0, text)


def take(text: str, *, asked: bool = False) -> Command | None:
    return TextControl(COMMANDS).take(said(text), asked=asked)


@pytest.mark.parametrize(
    ("text", "may"),
    [
        ("Attention please, correct that to 12.4 volts.", True),
        ("the tension please mark this", True),
        ("two bolts out and the pump spins freely", False),
    ],
)
def test_a_piece_with_something_like_the_phrase_may_hold_a_command(text: str, may: bool) -> None:
    assert TextControl(COMMANDS).may_call(text) is may


@pytest.mark.parametrize(
    ("text", "command"),
    [
        ("Attention please, strike that.", Command("strike_last")),
        ("Attention, please. Scratch the last remark.", Command("strike_last")),
        ("Attention please correct that to 12.4 volts.", Command("correct", "12.4 volts")),
        ("Attention please, make that ninety foot-pounds.", Command("correct", "ninety foot-pounds")),
        ("attention please begin job 2009 Ardenna Volo", Command("begin_job", "2009 Ardenna Volo")),
        ("Attention please, start a new job.", Command("begin_job")),
        ("Attention please, close this job.", Command("end_job")),
        ("Attention, please, pause.", Command("pause")),
        ("A tension please. Go on.", Command("go_on")),
        ("Attention please, mark this odd rattle", Command("mark", "odd rattle")),
        ("Attention please, what was the last reading?", Command("last_reading")),
        ("Attention please, read back the last torque.", Command("last_torque")),
        ("Attention please, give me a summary so far.", Command("summary")),
        ("Attention please, what's still open?", Command("still_open")),
        ("Attention please, which bolts are still off?", Command("open_fasteners")),
        ("Attention please, help.", Command("help")),
        ("Attention please.", Command("attention")),
        (
            "Two ten mil bolts off, attention please, mark this.",
            Command("mark", "", "Two ten mil bolts off"),
        ),
        ("Attention please, purple monkey.", Command("not_understood", "purple monkey")),
    ],
)
def test_commands_are_found(text: str, command: Command) -> None:
    assert take(text) == command


@pytest.mark.parametrize(
    "text",
    [
        "strike that", "pause there for a second", "Please pay attention to the rattle.", "yes", "no",
        "Attention to the brake is dragging.", "mark this on the drum", "that should be twelve volts",
        "go on, turn it over", "what is still open is the bleed screw",
    ],
)  # fmt: skip
def test_without_the_attention_phrase_it_is_narration(text: str) -> None:
    assert take(text) is None


def test_yes_and_no_count_only_while_asked() -> None:
    assert take("Yes.", asked=True) == Command("yes")
    assert take("no thanks", asked=True) == Command("no")
    assert take("Now the other side is dragging too.", asked=True) is None


def test_the_phrase_alone_opens_the_next_utterance_for_a_while() -> None:
    control = TextControl(COMMANDS)
    assert control.take(said("Attention please.", 10.0)) == Command("attention")
    assert control.take(said("What is still open?", 13.0)) == Command("still_open")
    assert control.take(said("What is still open?", 17.0)) is None
    control.take(said("Attention please.", 20.0))
    assert control.take(said("Strike that.", 22.0 + ARMED_S + 0.1)) is None
    control.take(said("Attention please.", 40.0))
    assert control.take(said("The strap is loose at the block.", 43.0)) is None


def test_a_command_behind_the_phrase_alone_is_heard_with_the_sound_of_both() -> None:
    ear = Ear("", 1.0)
    control = TextControl(COMMANDS, ear)  # type: ignore[arg-type]
    one_second = np.zeros(16_000, np.float32)

    def second(text: str, heard: str, sure: float) -> Command | None:
        assert control.take(said("Attention please.", 10.0), lambda: one_second) == Command("attention")
        ear.text, ear.sure = heard, sure
        try:
            return control.take(said(text, 13.0), lambda: np.zeros(32_000, np.float32))
        finally:
            ear.text = ""

    call = "attention please list commands"
    assert second("The mist comes down.", call, SURE) == Command("help")
    assert ear.samples == 48_000
    assert second("The mist comes down.", call, SURE - 0.01) is None
    assert second("What is still open?", call, 1.0) == Command("still_open")


def test_what_the_ear_of_commands_has_no_part_in_stays_narration() -> None:
    class Late(Ear):
        def decode(self, segment: Segment) -> list[Word]:
            return [Word(word, 1.0, 3.0, 1.0) for word in self.text.split()]

    words = [("Drum", 0.2), ("off.", 0.9), ("Tension", 1.6), ("fees", 1.8), ("some", 2.0), ("map.", 2.3)]
    heard = tuple(Word(word, 100.0 + end - 0.2, 100.0 + end, 0.9) for word, end in words)
    one = Utterance(1, 100.0, 102.5, " ".join(word.word for word in heard), heard)
    control = TextControl(COMMANDS, Late("attention please sum up", 1.0))  # type: ignore[arg-type]
    assert control.take(one, lambda: np.zeros(48_000, np.float32)) == Command("summary", "", "Drum off")


def test_talk_that_runs_into_a_command_stays_narration_too() -> None:
    class Early(Ear):
        def decode(self, segment: Segment) -> list[Word]:
            return [Word(word, 1.0, 2.0, 1.0) for word in self.text.split()]

    words = [
        ("Off.", 0.9),
        ("Tension", 1.2),
        ("fees", 1.4),
        ("some", 1.6),
        ("map", 1.7),
        ("rain", 2.2),
        ("later.", 2.5),
    ]
    heard = tuple(Word(word, 100.0 + end - 0.2, 100.0 + end, 0.9) for word, end in words)
    one = Utterance(1, 100.0, 102.6, " ".join(word.word for word in heard), heard)
    control = TextControl(COMMANDS, Early("attention please sum up", 1.0))  # type: ignore[arg-type]
    found = control.take(one, lambda: np.zeros(48_000, np.float32))
    assert found == Command("summary", "", "Off rain later")


def test_what_is_narrated_in_the_samples_triggers_nothing() -> None:
    control = TextControl(COMMANDS)
    lines = [
        one
        for path in sorted((ROOT / "sample_sessions").glob("*/utterances.jsonl"))
        for one in parse_lines(path.read_text(encoding="utf-8").splitlines())
    ]
    assert len(lines) > 100
    assert [one.text for one in lines if control.take(one)] == []


class Ear:
    """A recognizer that knows the grammar only."""

    name, timing = "grammar", "aligned"

    def __init__(self, text: str, sure: float, free: str | None = None) -> None:
        self.text, self.sure, self.free, self.samples = text, sure, free, 0

    def decode(self, segment: Segment) -> list[Word]:
        self.samples = len(segment.samples)
        return [Word(word, 0.0, 0.1, self.sure, self.free) for word in self.text.split()]


def by_ear(heard: str, dictated: str, sure: float = 1.0, free: str | None = None) -> Command | None:
    control = TextControl(COMMANDS, Ear(heard, sure, free))  # type: ignore[arg-type]
    return control.take(said(dictated), lambda: np.zeros(32_000, np.float32))


def test_the_recognizer_of_commands_decides_where_the_dictated_text_does_not() -> None:
    assert by_ear("attention please strike that", "Tension pleas, like that.") == Command("strike_last")
    assert by_ear("", "The strap is loose.") is None
    assert by_ear("strike that", "strike that") is None
    found = by_ear("attention please correct that to", "A ten shun please correct that to 12.4 volts")
    assert found == Command("correct", "12.4 volts")


def test_an_ear_is_believed_only_when_it_is_sure() -> None:
    call = "attention please strike that"
    assert by_ear(call, "The tension is slightly like", SURE) == Command("strike_last")
    assert by_ear(call, "The tension is slightly like", SURE - 0.01) is None


def test_an_ear_that_nothing_bears_out_must_be_surer_and_no_free_words_may_follow() -> None:
    call = "attention please strike that"
    assert by_ear(call, "Three volts on the left", SURE_UNBORNE - 0.01) is None
    assert by_ear(call, "Three volts on the left", SURE_UNBORNE) == Command("strike_last")
    assert by_ear("attention please note it", "Now the hose that is entering the vaporizer", 1.0) is None
    assert by_ear("attention please note it", "Now the tension is entering the", 0.9) is not None


def test_what_bears_out_a_command_that_free_words_may_follow_must_be_more_like_the_phrase() -> None:
    written = "The pension is in the lock down the back"
    assert by_ear("attention please strike that", written, 0.95) == Command("strike_last")
    assert by_ear("attention please note it", written, 0.95) is None


def test_what_the_second_ear_heard_freely_bears_a_command_out_too() -> None:
    call, text = "attention please strike that", "Three volts on the left"
    assert by_ear(call, text, SURE, "attention sleeves like that") == Command("strike_last")
    assert by_ear(call, text, SURE, "return springs off") is None


def test_a_command_in_the_text_behind_something_like_the_phrase_is_seconded_by_an_ear_less_sure() -> None:
    call = "attention please read back the last torque"
    written = "Attention clean, read back the last torque, he said."
    assert by_ear(call, written, SURE_SECONDED) == Command("last_torque", "", "")
    assert by_ear(call, written, SURE_SECONDED - 0.01) is None
    assert by_ear(call, "Attention clean, three volts.", SURE_SECONDED) is None
    assert by_ear("attention please help", written, SURE_SECONDED) is None
    second = f"attention please make that {call}"
    assert by_ear(second, written, SURE_SECONDED) == Command("last_torque", "", "")


def test_an_ear_must_be_surer_to_be_seconded_where_free_words_may_follow() -> None:
    written, call = "Attention cleans, make that eight bolts.", "attention please make that"
    assert by_ear(call, written, SURE_SECONDED_FREE) == Command("correct", "eight bolts")
    assert by_ear(call, written, SURE_SECONDED_FREE - 0.01) is None


def test_free_words_fit_anything_so_another_command_that_is_written_is_taken() -> None:
    dictated = "Attention please, want was the last torque."
    assert by_ear("attention please note it", dictated, 0.95) == Command("last_torque")
    assert by_ear("attention please note it", "Attention please, one told.", 0.95) is not None


def test_where_the_phrase_is_written_and_no_command_the_likeliest_that_is_heard_was_called_for() -> None:
    unclear = "attention please correct attention please mark it attention please help"
    assert by_ear(unclear, "Attention please tell.", SURE_CALLED) == Command("help")
    assert by_ear(unclear, "Attention please tell.", SURE_CALLED - 0.01) == Command("not_understood", "tell")
    assert by_ear("attention please mark it", "Attention please tell.", SURE_CALLED) == Command(
        "not_understood", "tell"
    ), "free words fit anything"
    talk = by_ear(unclear, "Attention please sign hangs over the door.", SURE_CALLED)
    assert talk == Command("not_understood", "sign hangs over the door"), "too many words"
    assert by_ear(unclear, "Attention please.", SURE_CALLED) == Command("attention")
    assert by_ear(unclear, "The tension is low.", SURE_CALLED) is None


def test_the_ear_answers_no_question() -> None:
    control = TextControl(COMMANDS, Ear("attention please do it", 1.0))  # type: ignore[arg-type]
    assert control.take(said("The tension is low"), lambda: np.zeros(32_000, np.float32), asked=True) is None


def test_a_command_in_the_text_word_by_word_is_taken_without_the_ear() -> None:
    assert by_ear("attention please help", "Attention please, mark this.") == Command("mark")
    found = by_ear("attention please help", "Attention please, make that 8 bolts")
    assert found == Command("correct", "8 bolts")


def test_an_ear_that_is_sure_decides_against_a_command_that_the_text_is_only_like() -> None:
    dictated = "Attention please, not his left"
    assert by_ear("", dictated) == Command("mark", "left")
    assert by_ear("attention please what is left", dictated) == Command("still_open")
    assert by_ear("attention please what is left", dictated, SURE - 0.01) == Command("mark", "left")


def test_where_text_and_ear_mean_the_same_the_words_are_those_of_the_text() -> None:
    dictated = "Potential please, flack that odd rattle"
    assert by_ear("attention please flag that", dictated) == by_ear("", dictated)


def test_alternatives_of_several_words_bind_as_jsgf_has_it() -> None:
    ways = {phrase.words: phrase.name for phrase in COMMANDS.phrases}
    assert ways["sum up"] == "summary"
    assert ways["job done"] == "end_job"
    assert ways["name the open fasteners"] == "open_fasteners"
    assert "read sum up" not in ways
    assert ways["what was that last torque"] == "last_torque"


def test_the_ear_hears_commands_with_and_without_free_words_save_what_is_nothing_without_them() -> None:
    calls = [way for ways in COMMANDS.calls() for way in ways]
    assert {"attention please flag that", "attention please flag that [unk]"} <= set(calls)
    assert "attention please make that [unk]" in calls
    assert "attention please make that" not in calls


def test_the_shops_own_grammar_takes_the_place_of_ours(tmp_path: Path) -> None:
    settings = Settings(home=tmp_path)
    assert grammar_path(settings) == GRAMMARS / "commands.jsgf"
    (tmp_path / "commands.jsgf").write_text(
        "#JSGF V1.0;\ngrammar shop;\n<attention> = attention office;\npublic <pause> = coffee [break];\n"
    )
    own = read_commands(grammar_path(settings))
    control = TextControl(own)
    assert control.take(said("Attention office, coffee break.")) == Command("pause")
    assert control.take(said("Attention please, pause.")) is None
    assert own.help() == "Say attention office, then: coffee."


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("nonsense", "Expected"),
        ("#JSGF V1.0;\ngrammar a;\npublic <pause> = wait;\n", "no rule <attention>"),
        ("#JSGF V1.0;\ngrammar a;\n<attention> = hey;\npublic <fly> = fly;\n", "no command fly"),
    ],
)
def test_a_grammar_that_cannot_be_used_says_why(tmp_path: Path, text: str, why: str) -> None:
    (tmp_path / "commands.jsgf").write_text(text)
    with pytest.raises(NarratorError) as caught:
        read_commands(tmp_path / "commands.jsgf")
    assert caught.value.code == "E609"
    assert why in caught.value.message


def test_every_command_has_words_and_help_names_them() -> None:
    names = {phrase.name for phrase in COMMANDS.phrases}
    assert len(names) == 15
    assert "begin job" in COMMANDS.help()
    assert plain_words("What's up, 12.4 volts?") == ["whats", "up", "12.4", "volts"]
