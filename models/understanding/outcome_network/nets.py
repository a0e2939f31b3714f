"""Both networks: the large encoder that learns outcomes, and the small one that learns from it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import torch
from torch import Tensor, nn
from transformers import AutoModel

from models.understanding.network.export import word_weights

AROUND, HIDDEN = 96, 64
"""Numbers that say what stands around a word, and of the hidden layer, in the small network."""
LINES = 4
"""Lines that the small network reads: one before the last, the last, two after."""


class Teacher(nn.Module):
    """An open sentence encoder, fine-tuned: a check's lines and the next ones as a pair of texts."""

    def __init__(self, encoder: Path) -> None:
        super().__init__()
        self.encoder: Any = AutoModel.from_pretrained(encoder, add_pooling_layer=False)
        width = self.encoder.config.hidden_size
        self.drop = nn.Dropout(0.1)
        self.judge = nn.Sequential(nn.Linear(2 * width, 256), nn.GELU(), nn.Dropout(0.1), nn.Linear(256, 1))

    def forward(self, pieces: Tensor, there: Tensor, first: Tensor) -> Tensor:
        """Log odds of good; ``there`` marks all word pieces, ``first`` the check's own (checks × pieces)."""
        states = self.encoder(input_ids=pieces, attention_mask=there.long()).last_hidden_state.float()
        masks = [mask[..., None] for mask in (there, first)]
        whole, own = ((states * mask).sum(1) / mask.sum(1).clamp(min=1) for mask in masks)
        odds: Tensor = self.judge(self.drop(torch.cat([whole, own], 1)))[:, 0]
        return odds


class Student(nn.Module):
    """One network of ``narrator.job.outcome_network``; ``parts`` names its weights as that does."""

    def __init__(self, vectors: Tensor) -> None:
        super().__init__()
        size = vectors.shape[1]
        self.table = nn.Embedding(len(vectors) + 1, size, padding_idx=0)
        with torch.no_grad():
            self.table.weight[1:] = vectors
        self.near = nn.Conv1d(size, AROUND, 3, padding=1)
        self.wide = nn.Conv1d(AROUND, AROUND, 5, padding=2)
        self.even = nn.LayerNorm(AROUND)
        self.hid = nn.Linear(2 * AROUND * LINES, HIDDEN)
        self.out = nn.Linear(HIDDEN, 1)
        self.drop = nn.Dropout(0.15)

    def forward(self, rows: Tensor) -> Tensor:
        """Log odds of good, from table rows (checks × lines × words, 0 where there is none)."""
        read = self._lines(rows.flatten(0, 1)).reshape(len(rows), -1)
        odds: Tensor = self.out(self.drop(torch.relu(self.hid(self.drop(read)))))[:, 0]
        return odds

    def _lines(self, rows: Tensor) -> Tensor:
        there = (rows > 0)[..., None]
        x = self.drop(self.table(rows))
        x = torch.relu(self.near(x.transpose(1, 2))).transpose(1, 2) * there
        x = x + torch.relu(self.wide(x.transpose(1, 2))).transpose(1, 2) * there
        x = self.even(x)
        mean = (x * there).sum(1) / there.sum(1).clamp(min=1)
        most = x.masked_fill(~there, -1e4).amax(1)
        return torch.cat([mean, most], 1) * there.any(1)

    def parts(self) -> dict[str, Tensor]:
        """Every weight under the name that the program knows it by."""
        return word_weights(self, ("hid", "out"))
