"""What a person types into a search, as an FTS5 query that is valid whatever was typed."""

from __future__ import annotations

import re

MOST_TERMS = 64
"""Terms taken of one search; FTS5 itself refuses expressions of a few hundred."""

_TERM = re.compile(r'"([^"]*)"?|([^\s"]+)')


def fts_query(typed: str) -> str:
    """All words must occur; ``"two words"`` stay together; ``alter*`` finds what begins so.

    Every term is quoted, so that no word or sign is read as an operator. Empty when there is no word at all.
    """
    terms = []
    for phrase, word in _TERM.findall(typed.replace("\x00", " ")):
        text = phrase or word
        if any(sign.isalnum() for sign in text):
            terms.append(f'"{text}"' + ("*" if word.endswith("*") else ""))
    return " ".join(terms[:MOST_TERMS])
