"""What earlier lines measured, as numbers are held against it."""

from __future__ import annotations

from narrator.language.guesses import Reading, distance, distances
from narrator.language.past import NAMES, Past
from narrator.language.readings import Guesser
from narrator.language.tokens import split_words
from narrator.language.unsaid import Memory
from narrator.phrases import Phrases

READ = [
    Reading(1, "voltage", "V", 12.6, True),
    Reading(2, "pressure", "psi", 40.0, True),
    Reading(3, "voltage", "mV", 50.0, True),
    Reading(4, "voltage", "V", 11.9, False),
]


def test_readings_are_gone_through_by_quantity_and_unit_the_latest_first() -> None:
    past = Past(Memory(turn=5, readings=READ))
    assert [r.value for r in past.of["voltage"]] == [11.9, 50.0, 12.6]
    assert [*past.units] == [("voltage", "V"), ("voltage", "mV"), ("pressure", "psi")]
    assert [r.value for r in past.units["voltage", "V"]] == [11.9, 12.6]


def test_a_meaning_is_held_against_what_was_read() -> None:
    memory = Memory(turn=5, readings=READ, focus=[(2, "pressure"), (5, "pressure")], met={"voltage"})
    guesser = Guesser(memory, split_words("and now it is at twelve"), ())
    volts, amps, pressure = (
        dict(zip(NAMES, guesser.past.beside(guesser, quantity, unit, 11.9), strict=True))
        for quantity, unit in (("voltage", "V"), ("current", "A"), ("pressure", "psi"))
    )
    assert volts["read"] and volts["read last"] and volts["met"] and volts["same value"]
    assert (volts["share of readings"], volts["steady"], volts["focus"]) == (0.75, 0.4, 0.0)
    assert not any(amps.values())
    assert pressure["read"] and not pressure["read last"] and pressure["focus"] == 1.0


def test_how_unlike_values_are_is_told_of_many_as_of_one() -> None:
    others = [12.0, 0.0, -3.0, 0.5]
    for value in (12.0, 0.0, -2.0):
        assert distances(value, others) == [distance(value, other) for other in others]


def test_the_longest_phrase_is_found_whatever_its_second_word() -> None:
    phrases = Phrases([("leak", 1), ("leak off", 2), ("leak off pipe", 3), ("leak down test", 4)])
    lines = ("leak off pipe", "leak off now", "leak down now", "a leak", "leak down test")
    assert [[found[2] for found in phrases.all(line.split())] for line in lines] == [[3], [2], [1], [1], [4]]
