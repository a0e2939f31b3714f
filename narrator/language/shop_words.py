"""The shop's own words: one small TOML file that people may also edit by hand.

[[word]]
name = "flobber valve"
kind = "component"
sounds_like = ["flubber valve"]
pronounced = ["F L AA B ER, V AE L V"]
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from narrator.errors import NarratorError
from narrator.language.tokens import split_words
from narrator.settings import load_settings

KINDS = ("component", "tool", "material", "position", "fault", "action")


@dataclass(frozen=True, slots=True)
class ShopWord:
    """A word or phrase of the shop and what recognizers make of it."""

    name: str
    kind: str
    sounds_like: tuple[str, ...] = ()
    pronounced: tuple[str, ...] = ()
    """Ways to say it: phones between blanks, commas between the name's words."""


def shop_file() -> Path:
    """Where the shop's words lie: the setting, else vocabulary.toml in the home."""
    return load_settings().own_words


def make_shop_word(
    name: str, kind: str, sounds_like: tuple[str, ...] = (), pronounced: tuple[str, ...] = ()
) -> ShopWord:
    """A checked word, lower case.

    Raises:
        NarratorError: E910 when the name has no letter, E911 for an unknown kind, E914 for a
            pronunciation that has not as many parts as the name has words.
    """
    if not any(sign.isalpha() for sign in name):
        raise NarratorError("E910", name=name)
    return _made(name, kind, sounds_like, pronounced)


def _made(name: str, kind: str, sounds_like: tuple[str, ...], pronounced: tuple[str, ...]) -> ShopWord:
    """A word of the file, where a number alone may stand from before it was refused."""
    words = split_words(name).words
    if not words or not any(word.isalnum() for word in words):
        raise NarratorError("E910", name=name)
    if kind not in KINDS:
        raise NarratorError("E911", name=name, kind=kind, kinds=", ".join(KINDS))
    heard = tuple(" ".join(split_words(said).words) for said in sounds_like)
    whole = _joined(words)
    for said in pronounced:
        if said.count(",") != len(whole.split()) - 1:
            raise NarratorError("E914", said=said, name=whole, count=len(whole.split()))
    return ShopWord(whole, kind, tuple(said for said in heard if said), pronounced)


def _joined(words: list[str]) -> str:
    return " ".join(words).replace(" '", "'").replace(" / ", "/")


def read_shop_words(path: Path) -> tuple[ShopWord, ...]:
    """The words of a file; none when it is missing.

    Raises:
        NarratorError: E912 when the file cannot be understood, E910 or E911 for a wrong word in it.
    """
    if not path.is_file():
        return ()
    try:
        rows = tomllib.loads(path.read_text(encoding="utf-8")).get("word", [])
        given = [
            (str(r["name"]), str(r["kind"]), _texts(r, "sounds_like"), _texts(r, "pronounced")) for r in rows
        ]
    except (
        OSError,
        UnicodeDecodeError,
        tomllib.TOMLDecodeError,
        KeyError,
        TypeError,
        AttributeError,
    ) as error:
        raise NarratorError("E912", path=path, why=error) from error
    return tuple(_made(*row) for row in given)


def _texts(row: dict[str, Any], key: str) -> tuple[str, ...]:
    return tuple(map(str, row.get(key, ())))


def write_shop_words(path: Path, words: tuple[ShopWord, ...]) -> None:
    """Write the file anew, through a temporary one, so that a crash leaves the old words.

    Raises:
        NarratorError: E913 when it cannot be written.
    """
    lines = ["# The shop's own words (see docs/vocabulary.md)."]
    for word in words:
        lines += ["", "[[word]]", f"name = {_quoted(word.name)}", f"kind = {_quoted(word.kind)}"]
        if word.sounds_like:
            lines.append(f"sounds_like = [{', '.join(map(_quoted, word.sounds_like))}]")
        if word.pronounced:
            lines.append(f"pronounced = [{', '.join(map(_quoted, word.pronounced))}]")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        new = path.with_suffix(".new")
        new.write_text("\n".join(lines) + "\n", encoding="utf-8")
        new.replace(path)
    except OSError as error:
        raise NarratorError("E913", path=path, why=error) from error


def _quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are all valid in TOML."""
    return json.dumps(text, ensure_ascii=False)


def add_shop_words(path: Path, added: tuple[ShopWord, ...]) -> tuple[ShopWord, ...]:
    """Add words to the file; one already there gets the new kind and further sounds. Returns all words.

    A new pronunciation takes the place of the old ones.
    """
    words = {word.name: word for word in read_shop_words(path)}
    for word in added:
        before = words.get(word.name, word)
        sounds = tuple(dict.fromkeys([*before.sounds_like, *word.sounds_like]))
        words[word.name] = ShopWord(word.name, word.kind, sounds, word.pronounced or before.pronounced)
    result = tuple(words.values())
    write_shop_words(path, result)
    return result


def remove_shop_word(path: Path, name: str) -> tuple[ShopWord, ...]:
    """Take a word out of the file. Returns those that are left.

    Raises:
        NarratorError: E915 when the file has no such word.
    """
    wanted = _joined(split_words(name).words)
    words = read_shop_words(path)
    kept = tuple(word for word in words if word.name != wanted)
    if len(kept) == len(words):
        raise NarratorError("E915", name=wanted, path=path)
    write_shop_words(path, kept)
    return kept
