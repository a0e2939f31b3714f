"""A number and *new* alone: another group of the fasteners just named (*five old clips one new*)."""

from __future__ import annotations

from narrator.language.figures import Figures
from narrator.language.tokens import Notes
from narrator.values import Fastener

_ENDS = frozenset("and in that for because cause as to since but then so with on at off from".split())
"""After one of these *one new* stands alone."""


def find_old(notes: Notes, found: Figures) -> None:
    """*two old and one new torx thirty*: another group of the kind named next."""
    for figure in found.all:
        end = figure.end + 2
        if notes.words[figure.end : end] not in (["old", "and"], ["good", "and"], ["original", "and"]):
            continue
        following = [e for e in notes.entities if isinstance(e, Fastener) and end <= e.at[0] <= end + 2]
        new = "new" in notes.words[end : end + 2]
        if following and new and figure.form == "whole":
            named = min(following, key=lambda e: e.at)
            at = (figure.start, figure.end + 1)
            notes.entities.append(
                Fastener(
                    span=notes.span(*at), at=at, rule="fastener.new", kind=named.kind,
                    count=int(figure.value), size=named.size, drive=named.drive,
                )
            )  # fmt: skip


def find_new(notes: Notes, found: Figures) -> None:
    """*five old clips one new*: another group of the kind just named."""
    for figure in found.all:
        if notes.words[figure.end : figure.end + 1] != ["new"] or figure.form != "whole":
            continue
        after = notes.words[figure.end + 1 : figure.end + 2]
        after = [w for w in after if w not in ("one", "ones")] or notes.words[figure.end + 2 : figure.end + 3]
        last = [e for e in notes.entities if isinstance(e, Fastener) and e.at[1] <= figure.start]
        if last and (not after or after[0] in _ENDS or figure.end + 1 in notes.marks):
            at = (figure.start, figure.end + 1)
            notes.entities.append(
                Fastener(
                    span=notes.span(*at), at=at, rule="fastener.new", kind=last[-1].kind,
                    count=int(figure.value), new=True,
                )
            )  # fmt: skip
