"""What a person types into a search, as an FTS5 query that is valid whatever was typed."""

from __future__ import annotations

import re

_TERM = re.compile(r'"([^"]*)"?|([^\s"]+)')


def fts_query(typed: str) -> str:
    """All words must occur; ``"two words"`` stay together; ``alter*`` finds what begins so.

    Every term is quoted, so that no word or sign is read as an operator. Empty when there is no word at all.
    """
    writable = typed.encode("utf-8", "replace").decode("utf-8").replace("\x00", " ")
    terms = []
    for phrase, word in _TERM.findall(writable):
        text = phrase or word
        if any(sign.isalnum() for sign in text):
            terms.append(f'"{text}"' + ("*" if word.endswith("*") else ""))
    return " ".join(terms)
