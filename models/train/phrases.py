"""Sentences made from the templates of ``grammars/hearing/phrases.toml``, all in words as they are said."""

from __future__ import annotations

import random
import re
import tomllib
from functools import lru_cache
from typing import Any

from narrator.paths import GRAMMARS
from narrator.wording import spell

_SLOT = re.compile(r"\{(\w+)\}")
_PLURAL_TENS = re.compile(r"tys\b")
_DENOMINATORS = {
    2: "halves",
    4: "quarters",
    8: "eighths",
    16: "sixteenths",
    10: "tenths",
    32: "thirty seconds",
}
_DIGITS = "zero one two three four five six seven eight nine".split()


@lru_cache(maxsize=1)
def tables() -> dict[str, Any]:
    """The templates as data."""
    return tomllib.loads((GRAMMARS / "hearing" / "phrases.toml").read_text(encoding="utf-8"))


def sentences(count: int, seed: int, kind: str = "phrase") -> list[str]:
    """``count`` sentences of a template; the same seed gives the same ones."""
    rng = random.Random(seed)
    return [filled("{" + kind + "}", rng) for _ in range(count)]


def filled(text: str, rng: random.Random) -> str:
    """Fill slots until none is left; empty ones leave no double blank."""
    while found := _SLOT.search(text):
        text = text[: found.start()] + _slot(found[1], rng) + text[found.end() :]
    return " ".join(_PLURAL_TENS.sub("ties", text).split())


def _slot(name: str, rng: random.Random) -> str:
    data = tables()
    for table in ("templates", "lists"):
        if name in data[table]:
            choice: str = rng.choice(data[table][name])
            return choice
    if name in data["numbers"]:
        low, high = data["numbers"][name]
        return say_number(rng.randint(low, high), rng)
    return {"decimal": _decimal, "pairs": _pairs, "fraction": _fraction, "digits": _digits}[name](rng)


def say_number(number: int, rng: random.Random) -> str:
    """A whole number the way people say it: in full, with *and*, in pairs or in round thousands."""
    if 1100 <= number <= 9999 and number % 1000 >= 10 and rng.random() < 0.6:
        return f"{spell(number // 100)} {_second(number % 100)}"
    if 100 < number < 1000 and rng.random() < 0.4:
        return f"{spell(number // 100)} {_second(number % 100)}"
    if number >= 10_000 and rng.random() < 0.5:
        number = round(number, -3)
    words = spell(number)
    if " hundred " in words and rng.random() < 0.4:
        words = words.replace(" hundred ", " hundred and ", 1)
    if words.startswith("one hundred") and rng.random() < 0.3:
        words = "a" + words.removeprefix("one")
    return words


def _second(rest: int) -> str:
    """The second half of a number said in pairs."""
    if rest == 0:
        return "hundred"
    return f"oh {spell(rest)}" if rest < 10 else spell(rest)


def _decimal(rng: random.Random) -> str:
    whole = rng.choice([0, 0, *range(1, 16), 12, 12, 12, 13, 14, 14, rng.randint(16, 130)])
    places = " ".join(rng.choice(_DIGITS) for _ in range(rng.choice([1, 1, 1, 2, 2, 3])))
    if whole == 0:
        return rng.choice(["", "zero ", "oh "]) + f"point {places}"
    if rng.random() < 0.08:
        return f"{spell(whole)} and a half"
    if rng.random() < 0.15:
        return f"{spell(whole)} {spell(rng.randint(1, 99))}"
    return f"{spell(whole)} point {places}"


def _pairs(rng: random.Random) -> str:
    return f"{spell(rng.randint(1, 29))} {_second(rng.randint(0, 99))}"


def _digits(rng: random.Random) -> str:
    return " ".join(rng.choice([*_DIGITS, "oh"]) for _ in range(rng.randint(2, 6)))


def _fraction(rng: random.Random) -> str:
    bottom = rng.choice(list(_DENOMINATORS))
    top = rng.randrange(1, bottom)
    said = _DENOMINATORS[bottom]
    if top == 1:
        return {2: "half", 4: "a quarter"}.get(bottom, f"a {said.removesuffix('s')}")
    return f"{spell(top)} {said}"
