"""Trouble codes (SAE J2012), vehicle numbers (49 CFR 565, ISO 3779), spelling alphabet (ICAO Annex 10)."""

from __future__ import annotations

import random
from typing import Any

import pytest
import vininfo

from narrator.language import Reader
from narrator.language.tables import load as grammar
from narrator.values import TroubleCode, Utterance, Vin
from tests.published.cases import ids, load, rows

pytestmark = pytest.mark.published

LETTERS = {word[0].upper(): word for word in rows("vin", "alphabet")[0]["words"].split()}
DIGITS = "zero one two three four five six seven eight nine".split()
ALLOWED = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


def understood(text: str) -> list[Any]:
    (one,) = Reader().read([Utterance(1, 0.0, 1.0, text)])
    return list(one.entities)


def spelled(vin: str) -> str:
    return " ".join(DIGITS[int(c)] if c.isdigit() else LETTERS[c] for c in vin)


def hear_vin(vin: str) -> Vin:
    found = [e for e in understood(f"vin is {spelled(vin)}") if isinstance(e, Vin)]
    assert len(found) == 1, found
    return found[0]


def weighted_sum(vin: str) -> int:
    rule = grammar("spelling")["values"][0]
    values = rule["letters"] | {str(n): n for n in range(10)}
    return sum(values[c] * weight for c, weight in zip(vin, rule["weights"], strict=True))


@pytest.mark.parametrize("row", rows("vin", "check"), ids=ids)
def test_check_digit_worked_examples(row: dict[str, Any]) -> None:
    assert weighted_sum(row["vin"]) == row["sum"]
    heard = hear_vin(row["vin"])
    assert (heard.vin, heard.check) == (row["vin"], True)


@pytest.mark.parametrize("row", rows("vin", "unchecked"), ids=ids)
def test_a_number_without_check_digit_is_kept_and_marked(row: dict[str, Any]) -> None:
    heard = hear_vin(row["vin"])
    assert (heard.vin, heard.check) == (row["vin"], False)


@pytest.mark.parametrize("row", rows("vin", "class"), ids=ids)
def test_equal_valued_letters_pass_the_check_unnoticed(row: dict[str, Any]) -> None:
    values = grammar("spelling")["values"][0]["letters"]
    assert {values[c] for c in row["members"] if c.isalpha()} == {row["value"]}
    vin = "11111111111111111"
    for member in row["members"]:
        other = vin[:12] + member + vin[13:]
        assert weighted_sum(other) % 11 == (weighted_sum(vin) + 6 * (row["value"] - 1)) % 11


def test_ear_confusions_that_the_check_cannot_catch_are_listed() -> None:
    pairs = {frozenset(pair) for row in grammar("spelling")["confusable"] for pair in row["pairs"]}
    classes = [set(row["members"]) for row in rows("vin", "class")]
    assert {frozenset(p) for p in ("CT", "EV", "GP", "AJ", "H8")} <= pairs
    assert all(any(pair <= members for members in classes) for pair in pairs)


def test_the_check_agrees_with_a_reference_library() -> None:
    chooser = random.Random(7)
    for _ in range(60):
        body = "".join(chooser.choices(ALLOWED, k=17))
        vin = body[:8] + "0X123456789"[chooser.randrange(11)] + body[9:]
        digit = "0123456789X"[weighted_sum(vin) % 11]
        assert (digit == vin[8]) is bool(vininfo.Vin(vin).verify_checksum(check_year=False)), vin


def icao() -> dict[str, str]:
    (row,) = (row for row in grammar("spelling")["alphabet"] if row["id"] == "spelling.icao")
    letters: dict[str, str] = row["letters"]
    return letters


@pytest.mark.parametrize("letter", sorted(LETTERS))
def test_the_spelling_alphabet(letter: str) -> None:
    assert icao()[LETTERS[letter]] == letter


@pytest.mark.parametrize("row", rows("vin", "spelling"), ids=ids)
def test_other_spellings_of_the_alphabet(row: dict[str, Any]) -> None:
    assert icao()[row["word"]] == row["letter"]


@pytest.mark.parametrize("row", rows("dtc", "spoken"), ids=ids)
def test_a_trouble_code_read_aloud(row: dict[str, Any]) -> None:
    assert [e.code for e in understood(row["say"]) if isinstance(e, TroubleCode)] == [row["code"]]


@pytest.mark.parametrize("row", rows("dtc", "form"), ids=ids)
def test_the_form_of_a_trouble_code(row: dict[str, Any]) -> None:
    codes = [e.code for e in understood(f"code {row['text']} is stored") if isinstance(e, TroubleCode)]
    assert codes == ([row["text"]] if row["valid"] else [])


@pytest.mark.parametrize("code", sorted(load("dtc")["titles"]["is"]))
def test_titles_of_trouble_codes(code: str) -> None:
    assert grammar("dtc")["titles"][code] == load("dtc")["titles"]["is"][code]


def test_no_title_is_shipped_unchecked() -> None:
    """A well-known open list has its titles shifted by a row from P0126 on: only what was checked ships."""
    assert set(grammar("dtc")["titles"]) == set(load("dtc")["titles"]["is"])
