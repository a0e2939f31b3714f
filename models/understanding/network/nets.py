"""Both networks: the large encoder with a story over its lines, and the small one that learns from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import torch
from torch import Tensor, nn
from transformers import AutoModel

from models.understanding.network.export import word_weights

STORY = 96
"""Numbers that carry the story from line to line in the small network."""
AROUND = 192
"""Numbers that say what stands around a word in the small network."""
TOLD = 128
"""Numbers from which the small network says what is told of a word."""


UNKNOWN_WORDS = 0.05
"""Share of the words hidden from the small network while it learns, so that it can do without."""


class Said(NamedTuple):
    """Log odds of what lines do (lines × acts) and of what their words are (lines × words × ...).

    ``acts``: knowing what follows; ``tags``: what a word names; ``subjects``: whether it is meant (no third
    axis); ``moves``: whether it is of fasteners that come off, that go on; ``amounts``: what its number
    measures; ``roles``: what it tells of fasteners; ``kinds``: what these are;
    ``soon``: acts by what was said so far alone (the large encoder's are those of ``acts``).
    """

    acts: Tensor
    tags: Tensor
    subjects: Tensor
    moves: Tensor
    amounts: Tensor
    roles: Tensor
    kinds: Tensor
    soon: Tensor


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many acts, tags, ways to move, amounts, roles and kinds there are."""

    acts: int
    tags: int
    moves: int
    amounts: int
    roles: int
    kinds: int


def told(story: nn.GRU, lines: Tensor, counts: Sequence[int]) -> Tensor:
    """The story after each line; ``lines`` holds talks of ``counts`` lines one after the other."""
    padded = nn.utils.rnn.pad_sequence(list(lines.split(list(counts))), batch_first=True)
    out, _ = story(padded)
    there = torch.arange(padded.shape[1], device=lines.device)[None]
    kept: Tensor = out[there < torch.tensor(list(counts), device=lines.device)[:, None]]
    return kept


def foretold(later: nn.GRU, lines: Tensor, counts: Sequence[int]) -> Tensor:
    """The story told backwards: after each line what comes later, and the line itself."""
    return _backwards(told(later, _backwards(lines, counts), counts), counts)


def _backwards(lines: Tensor, counts: Sequence[int]) -> Tensor:
    return torch.cat([talk.flip(0) for talk in lines.split(list(counts))])


class Teacher(nn.Module):
    """An open sentence encoder, fine-tuned: each line by itself, then the story before it and after it.

    ``which``: the encoder's place among those that the teachers come from.
    """

    def __init__(self, encoder: Path, sizes: Sizes, words: int, which: int = 0) -> None:
        super().__init__()
        story, dropout = 256, 0.2
        self.words, self.which = words, which
        self.encoder: Any = AutoModel.from_pretrained(encoder, add_pooling_layer=False)
        width = self.encoder.config.hidden_size
        self.pad: int = self.encoder.config.pad_token_id or 0
        self.story, self.later = (nn.GRU(width, story, batch_first=True) for _ in range(2))
        self.alone = nn.Linear(width, sizes.acts)
        self.both = nn.Sequential(
            nn.Linear(width + 2 * story, 256), nn.GELU(), nn.Dropout(dropout), nn.Linear(256, sizes.acts)
        )
        self.tag, self.subject = nn.Linear(width, sizes.tags), nn.Linear(width, 1)
        self.told = nn.Sequential(nn.Linear(width + story, 256), nn.GELU(), nn.Dropout(dropout))
        self.moves, self.amounts = nn.Linear(256, sizes.moves), nn.Linear(256, sizes.amounts)
        self.roles, self.kinds = nn.Linear(256, sizes.roles), nn.Linear(256, sizes.kinds)
        self.drop = nn.Dropout(dropout)

    def forward(self, given: Tensor, counts: Sequence[int]) -> Said:
        """From word pieces (lines × pieces, one more than their numbers, 0 where there is none) and where
        each word's first piece lies."""
        pieces, firsts = given[:, : -self.words], given[:, -self.words :]
        pieces = pieces[:, : int((pieces > 0).sum(1).max())]
        firsts = firsts[:, : max(1, int((firsts > 0).sum(1).max()))]
        there = pieces > 0
        numbers = torch.where(there, pieces - 1, self.pad)
        states = self.encoder(input_ids=numbers, attention_mask=there.long()).last_hidden_state.float()
        lines = (states * there[..., None]).sum(1) / there.sum(1, keepdim=True)
        stories = told(self.story, self.drop(lines), counts)
        later = foretold(self.later, self.drop(lines), counts)
        odds = self.both(torch.cat([self.drop(lines), stories, later], 1)) + self.alone(lines)
        words = self.drop(states).gather(1, firsts[..., None].expand(-1, -1, states.shape[2]))
        hidden = self.told(torch.cat([words, stories[:, None].expand(-1, words.shape[1], -1)], 2))
        subjects = self.subject(words)[..., 0]
        tables = (part(hidden) for part in (self.moves, self.amounts, self.roles, self.kinds))
        return Said(odds, self.tag(words), subjects, *tables, odds)


class Student(nn.Module):
    """The network of ``narrator.language.act_network``; ``parts`` names its weights as that does."""

    def __init__(self, vectors: Tensor, sizes: Sizes, dropout: float = 0.1) -> None:
        super().__init__()
        self.table = nn.Embedding(len(vectors) + 2, vectors.shape[1], padding_idx=0)
        with torch.no_grad():
            self.table.weight[1] = 0
            self.table.weight[2:] = vectors
        self.near = nn.Conv1d(vectors.shape[1], AROUND, 3, padding=1)
        self.wide = nn.Conv1d(AROUND, AROUND, 3, padding=1)
        self.even = nn.LayerNorm(AROUND)
        self.story, self.later = (nn.GRU(2 * AROUND, STORY, batch_first=True) for _ in range(2))
        self.alone = nn.Linear(2 * AROUND, sizes.acts)
        self.both = nn.Linear(2 * AROUND + STORY, 128)
        self.acts = nn.Linear(128, sizes.acts)
        self.all = nn.Linear(2 * AROUND + 2 * STORY, 128)
        self.judged = nn.Linear(128, sizes.acts)
        self.tag = nn.Linear(AROUND, sizes.tags)
        self.meant = nn.Linear(3 * AROUND, 64)
        self.subject = nn.Linear(64, 1)
        self.told = nn.Linear(3 * AROUND + STORY, TOLD)
        self.moves, self.amounts = nn.Linear(TOLD, sizes.moves), nn.Linear(TOLD, sizes.amounts)
        self.roles, self.kinds = nn.Linear(TOLD, sizes.roles), nn.Linear(TOLD, sizes.kinds)
        self.drop = nn.Dropout(dropout)

    def forward(self, words: Tensor, counts: Sequence[int]) -> Said:
        """From table rows (lines × words, 0 where there is none)."""
        words = words[:, : int((words > 0).sum(1).max())]
        there = (words > 0)[..., None]
        if self.training:
            lost = torch.rand(words.shape, device=words.device) < UNKNOWN_WORDS
            words = torch.where(lost & (words > 0), 1, words)
        x = self.drop(self.table(words))
        x = torch.relu(self.near(x.transpose(1, 2))).transpose(1, 2) * there
        x = x + torch.relu(self.wide(x.transpose(1, 2))).transpose(1, 2) * there
        x = self.even(x)
        mean = (x * there).sum(1) / there.sum(1)
        lines = torch.cat([mean, x.masked_fill(~there, -1e4).amax(1)], 1)
        stories = told(self.story, self.drop(lines), counts)
        later = foretold(self.later, self.drop(lines), counts)
        hidden = self.drop(torch.relu(self.both(torch.cat([self.drop(lines), stories], 1))))
        knowing = self.drop(torch.relu(self.all(torch.cat([self.drop(lines), stories, later], 1))))
        alone = self.alone(lines)
        wide = torch.cat([x, lines[:, None].expand(-1, x.shape[1], -1)], 2)
        meant = self.subject(self.drop(torch.relu(self.meant(wide))))
        after = torch.cat([wide, stories[:, None].expand(-1, x.shape[1], -1)], 2)
        told_of = self.drop(torch.relu(self.told(after)))
        return Said(
            self.judged(knowing) + alone,
            self.tag(x),
            meant[..., 0],
            self.moves(told_of),
            self.amounts(told_of),
            self.roles(told_of),
            self.kinds(told_of),
            self.acts(hidden) + alone,
        )

    def parts(self) -> dict[str, Tensor]:
        """Every weight that the program asks, under the name that it knows it by: not those of ``soon``."""
        layers = (
            "alone",
            "all",
            "judged",
            "tag",
            "meant",
            "subject",
            "told",
            "moves",
            "amounts",
            "roles",
            "kinds",
        )
        out = word_weights(self, layers)
        for way, gru in (("story", self.story), ("later", self.later)):
            named = {name: value.detach().float().cpu() for name, value in gru.named_parameters()}
            out[f"{way}.line"] = named["weight_ih_l0"].T
            out[f"{way}.line.bias"] = named["bias_ih_l0"]
            out[f"{way}.forget"] = named["weight_hh_l0"]
            out[f"{way}.forget.bias"] = named["bias_hh_l0"]
        return out
