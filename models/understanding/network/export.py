"""Write the small network as the program reads it: word vectors in eight bits, the rest in sixteen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from torch import Tensor


def export(weights: Mapping[str, Tensor], words: Sequence[str], path: Path) -> None:
    """Write weights by name to ``path``; ``words`` name the rows of its table after the first two."""
    parts = {name: value.numpy() for name, value in weights.items()}
    rows = parts.pop("rows")
    scale = np.maximum(np.abs(rows).max(axis=1), 1e-6) / 127
    np.savez_compressed(
        path,
        words=np.array("\n".join(words)),
        rows=np.round(rows / scale[:, None]).astype(np.int8),
        scale=scale.astype(np.float32),
        **{name: value.astype(np.float16) for name, value in parts.items()},
    )
    print(f"{path}: {path.stat().st_size} bytes")
