"""What the networks learn to say, and how far what they say is from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import torch
from torch import Tensor, nn

from models.understanding.network.nets import Said

OWN_SHARE = 0.5
"""How much the annotation counts beside what the teachers say, on talk that is annotated."""
WORD_TABLES = ("tags", "subjects", "moves", "amounts", "roles", "kinds")
"""What is said of words, in the order of ``Said``."""
ONE_OF = ("tags", "amounts", "roles", "kinds")
"""Tables of which each word has one value."""
WEIGHT = {"moves": 0.4, "amounts": 0.2, "roles": 0.3}
"""How much a table counts in the loss, where it is not 1: with more, the acts suffer."""
SOON = 0.7
"""How much the acts by what was said so far count beside those that know what follows."""


@dataclass(slots=True)
class Targets:
    """What is to be said of a talk's lines, and of their words: name of a table → its values, and which of
    them count (1 or 0 a word)."""

    acts: Tensor
    words: dict[str, Tensor]
    known: dict[str, Tensor]


def on(targets: Targets, device: str) -> Targets:
    """The targets on a device."""
    tables = ({name: table.to(device) for name, table in d.items()} for d in (targets.words, targets.known))
    return Targets(targets.acts.to(device), *tables)


def blended(rows: Tensor, own: Targets | None, heard: Sequence[Tensor]) -> Targets:
    """What the teachers say of a talk, with its annotation where there is one; words not there count nothing.

    ``rows``: table rows of its words (lines × words, 0 where there is none).
    """
    acts, *tables = heard[:-1]
    words = dict(zip(WORD_TABLES, tables, strict=True))
    width = tables[0].shape[1]
    there = (rows[:, :width] > 0).float()
    if own is not None:
        acts = acts + OWN_SHARE * (own.acts - acts)
        for name, table in words.items():
            known = own.known[name][:, :width]
            known = known if table.dim() == 2 else known[..., None]
            words[name] = table + OWN_SHARE * known * (own.words[name][:, :width] - table)
    known = dict.fromkeys(words, there)
    known["kinds"] = there * (1 - words["roles"][..., 0])  # of what is hardly a fastener it does not matter
    return Targets(acts, {n: t.half() for n, t in words.items()}, known)


def lost(said: Said, targets: Sequence[Targets]) -> Tensor:
    """Mean loss a line: cross-entropy of its acts, and of what is said of its words."""
    width = said.tags.shape[1]
    acts = torch.cat([t.acts for t in targets])
    loss = nn.functional.binary_cross_entropy_with_logits(said.acts, acts, reduction="sum")
    loss = loss + SOON * nn.functional.binary_cross_entropy_with_logits(said.soon, acts, reduction="sum")
    for name in WORD_TABLES:
        odds: Tensor = getattr(said, name)
        wanted = torch.cat([fitted(t.words[name], width) for t in targets]).float()
        known = torch.cat([fitted(t.known[name], width) for t in targets])
        if name in ONE_OF:
            cost = -(wanted * torch.log_softmax(odds, 2)).sum(2)
        else:
            cost = nn.functional.binary_cross_entropy_with_logits(odds, wanted, reduction="none")
            cost = cost if cost.dim() == 2 else cost.sum(2)
        loss = loss + WEIGHT.get(name, 1.0) * (cost * known).sum()
    return loss / len(acts)


def fitted(table: Tensor, words: int) -> Tensor:
    """A table by lines and words, cut or filled with zeros to so many words."""
    short = words - table.shape[1]
    if short <= 0:
        return table[:, :words]
    return nn.functional.pad(table, (0, short) if table.dim() == 2 else (0, 0, 0, short))
