"""Plain dollars, settled by what the session tells of its country."""

from __future__ import annotations

from pathlib import Path

from narrator.job.dollars import settle_dollars
from narrator.language.reader import Reader
from narrator.settings import Settings
from narrator.values import Price, Utterance


def currencies(lines: list[str], settings: Settings | None = None) -> list[str | None]:
    """The currencies of a session's prices when all of it was said."""
    said = [Utterance(n, float(n), n + 0.5, text) for n, text in enumerate(lines, start=1)]
    understood = settle_dollars(Reader(use_model=False, settings=settings).read(said))
    return [e.currency for one in understood for e in one.entities if isinstance(e, Price)]


def test_a_word_of_one_country_tells_whose_dollars_they_were() -> None:
    assert currencies(["the seal is six dollars", "it comes from auckland"]) == ["NZD"]
    assert currencies(["the seal is six dollars", "it comes from the shop"]) == ["USD"]


def test_who_drives_kilometres_and_pays_dollars_is_canadian() -> None:
    assert currencies(["the seal is six dollars", "twenty kilometres and it is dry"]) == ["CAD"]
    assert currencies(["the seal is six dollars", "twenty miles and it is dry"]) == ["USD"]


def test_words_of_britain_beside_dollars_are_australian() -> None:
    lines = ["the tyre is eighty dollars", "petrol back on and the bloke drove ten kilometres"]
    assert currencies(lines) == ["AUD"]


def test_another_currency_stays() -> None:
    assert currencies(["the seal is six euros", "twenty kilometres and it is dry"]) == ["EUR"]


def test_what_the_shop_has_set_holds() -> None:
    lines = ["the seal is six dollars", "twenty kilometres and it is dry"]
    assert currencies(lines, Settings(home=Path("no-home"), currency="AUD")) == ["AUD"]


def test_an_amount_without_a_currency_is_in_the_one_named_after_it() -> None:
    assert currencies(["the seal costs forty two fifty", "the hose is twelve quid"]) == ["GBP", "GBP"]
    assert currencies(["the seal costs forty two fifty", "the hose is split"]) == ["USD"]


def test_where_no_currency_is_ever_said_the_words_of_a_country_tell() -> None:
    assert currencies(["the seal costs forty two fifty", "it comes from timaru"]) == ["NZD"]
    british = ["the seal costs forty two fifty", "the tyre and the bonnet", "twelve newton metres on the lot"]
    assert currencies(british) == ["GBP"]


def test_the_plainest_word_tells_whose_dollars_they_were() -> None:
    assert currencies(["the seal is six dollars", "the ute this arvo", "it comes from timaru"]) == ["NZD"]
    assert currencies(["the seal is six dollars eh", "off the ute"]) == ["AUD"]
    assert currencies(["the seal is six dollars eh"]) == ["CAD"]


def test_an_amount_after_one_with_a_currency_stays_in_that() -> None:
    lines = ["the hose is twelve quid", "the seal costs forty two fifty", "the belt is nine euros"]
    assert currencies(lines) == ["GBP", "GBP", "EUR"]
