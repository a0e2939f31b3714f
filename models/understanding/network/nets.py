"""Both networks: the large encoder with a story over its lines, and the small one that learns from it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn
from transformers import AutoModel

STORY = 128
"""Numbers that carry the story from line to line in the small network."""
AROUND = 192
"""Numbers that say what stands around a word in the small network."""


def told(story: nn.GRU, lines: Tensor, counts: Sequence[int]) -> Tensor:
    """The story after each line; ``lines`` holds talks of ``counts`` lines one after the other."""
    padded = nn.utils.rnn.pad_sequence(list(lines.split(list(counts))), batch_first=True)
    out, _ = story(padded)
    there = torch.arange(padded.shape[1], device=lines.device)[None]
    kept: Tensor = out[there < torch.tensor(list(counts), device=lines.device)[:, None]]
    return kept


class Teacher(nn.Module):
    """An open sentence encoder, fine-tuned: each line by itself, then the story of the lines so far."""

    def __init__(self, encoder: Path, acts: int, story: int = 256, dropout: float = 0.2) -> None:
        super().__init__()
        self.encoder: Any = AutoModel.from_pretrained(encoder, add_pooling_layer=False)
        width = self.encoder.config.hidden_size
        self.story = nn.GRU(width, story, batch_first=True)
        self.alone = nn.Linear(width, acts)
        self.both = nn.Sequential(
            nn.Linear(width + story, 256), nn.GELU(), nn.Dropout(dropout), nn.Linear(256, acts)
        )
        self.drop = nn.Dropout(dropout)

    def forward(self, pieces: Tensor, counts: Sequence[int]) -> Tensor:
        """Log odds (lines × acts) from word pieces (lines × pieces, 0 where there is none)."""
        pieces = pieces[:, : int((pieces > 0).sum(1).max())]
        there = pieces > 0
        states = self.encoder(input_ids=pieces, attention_mask=there.long()).last_hidden_state.float()
        lines = (states * there[..., None]).sum(1) / there.sum(1, keepdim=True)
        stories = told(self.story, self.drop(lines), counts)
        odds: Tensor = self.both(torch.cat([self.drop(lines), stories], 1)) + self.alone(lines)
        return odds


class Student(nn.Module):
    """The network of ``narrator.language.act_network``; ``parts`` names its weights as that does."""

    def __init__(self, vectors: Tensor, acts: int, dropout: float = 0.1) -> None:
        super().__init__()
        self.table = nn.Embedding(len(vectors) + 2, vectors.shape[1], padding_idx=0)
        with torch.no_grad():
            self.table.weight[1] = 0
            self.table.weight[2:] = vectors
        self.near = nn.Conv1d(vectors.shape[1], AROUND, 3, padding=1)
        self.wide = nn.Conv1d(AROUND, AROUND, 3, padding=1)
        self.even = nn.LayerNorm(AROUND)
        self.story = nn.GRU(2 * AROUND, STORY, batch_first=True)
        self.alone = nn.Linear(2 * AROUND, acts)
        self.both = nn.Linear(2 * AROUND + STORY, 128)
        self.acts = nn.Linear(128, acts)
        self.drop = nn.Dropout(dropout)

    def forward(self, words: Tensor, counts: Sequence[int]) -> Tensor:
        """Log odds (lines × acts) from table rows (lines × words, 0 where there is none)."""
        words = words[:, : int((words > 0).sum(1).max())]
        there = (words > 0)[..., None]
        x = self.drop(self.table(words))
        x = torch.relu(self.near(x.transpose(1, 2))).transpose(1, 2) * there
        x = x + torch.relu(self.wide(x.transpose(1, 2))).transpose(1, 2) * there
        x = self.even(x)
        mean = (x * there).sum(1) / there.sum(1)
        lines = torch.cat([mean, x.masked_fill(~there, -1e4).amax(1)], 1)
        stories = told(self.story, self.drop(lines), counts)
        hidden = self.drop(torch.relu(self.both(torch.cat([self.drop(lines), stories], 1))))
        odds: Tensor = self.acts(hidden) + self.alone(lines)
        return odds

    def parts(self) -> dict[str, Tensor]:
        """Every weight under the name that the program knows it by."""
        named = {name: value.detach().float().cpu() for name, value in self.named_parameters()}
        out = {"rows": named["table.weight"][1:]}
        for name in ("near", "wide"):
            out[name], out[f"{name}.bias"] = named[f"{name}.weight"].permute(2, 1, 0), named[f"{name}.bias"]
        out["even"], out["even.bias"] = named["even.weight"], named["even.bias"]
        for name in ("alone", "both", "acts"):
            out[name], out[f"{name}.bias"] = named[f"{name}.weight"].T, named[f"{name}.bias"]
        out["story.line"] = named["story.weight_ih_l0"].T
        out["story.line.bias"] = named["story.bias_ih_l0"]
        out["story.forget"] = named["story.weight_hh_l0"]
        out["story.forget.bias"] = named["story.bias_hh_l0"]
        return out
