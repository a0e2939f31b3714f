"""Words as an open encoder reads them: in pieces."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor
from transformers import AutoTokenizer

PIECES, WORDS = 96, 60
"""So many pieces and words of a line are read."""


class Pieces:
    """Words as an encoder reads them."""

    def __init__(self, encoder: Path) -> None:
        self.tokenizer: Any = AutoTokenizer.from_pretrained(encoder)
        self._known: dict[str, list[int]] = {}

    def table(self, lines: Sequence[Sequence[str]]) -> Tensor:
        """Word pieces of lines, one more than their numbers, and where each word's first piece lies."""
        pieces = np.zeros((len(lines), PIECES + WORDS), np.int32)
        for n, words in enumerate(lines):
            said = [self.tokenizer.cls_token_id]
            for place, word in enumerate(words[:WORDS]):
                if len(said) < PIECES - 1:
                    pieces[n, PIECES + place] = len(said)
                    said += self._split(word)
            said = [*said[: PIECES - 1], self.tokenizer.sep_token_id]
            pieces[n, : len(said)] = [piece + 1 for piece in said]
        return torch.tensor(pieces)

    def _split(self, word: str) -> list[int]:
        if word not in self._known:
            self._known[word] = self.tokenizer(word, add_special_tokens=False)["input_ids"]
        return self._known[word]
