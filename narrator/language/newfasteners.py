"""A number and *new* alone: another group of the fasteners just named (*five old clips one new*)."""

from __future__ import annotations

from narrator.language.figures import Figures
from narrator.language.tokens import Notes
from narrator.values import Fastener


def find_new(notes: Notes, found: Figures) -> None:
    """*five old clips one new*: another group of the kind just named."""
    for figure in found.all:
        if notes.words[figure.end : figure.end + 1] != ["new"] or figure.form != "whole":
            continue
        after = notes.words[figure.end + 1 : figure.end + 2]
        after = [w for w in after if w not in ("one", "ones")] or notes.words[figure.end + 2 : figure.end + 3]
        last = [e for e in notes.entities if isinstance(e, Fastener) and e.at[1] <= figure.start]
        if last and (
            not after
            or after[0]
            in (
                "and",
                "in",
                "that",
                "for",
                "because",
                "cause",
                "as",
                "to",
                "since",
                "but",
                "then",
                "so",
                "with",
                "on",
                "at",
                "off",
                "from",
            )
            or figure.end + 1 in notes.marks
        ):
            at = (figure.start, figure.end + 1)
            notes.entities.append(
                Fastener(
                    span=notes.span(*at), at=at, rule="fastener.new", kind=last[-1].kind,
                    count=int(figure.value), new=True,
                )
            )  # fmt: skip
