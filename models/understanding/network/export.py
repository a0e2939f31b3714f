"""Write the small network as the program reads it: word vectors in eight bits, the rest in sixteen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from torch import Tensor, nn


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


def word_weights(net: nn.Module, layers: Sequence[str]) -> dict[str, Tensor]:
    """Weights of a network with ``table``, ``near``, ``wide``, ``even`` and linear ``layers``.

    Under the names that ``narrator.word_network`` knows them by.
    """
    named = {name: value.detach().float().cpu() for name, value in net.named_parameters()}
    out = {"rows": named["table.weight"][1:]}
    for name in ("near", "wide"):
        out[name], out[f"{name}.bias"] = named[f"{name}.weight"].permute(2, 1, 0), named[f"{name}.bias"]
    out["even"], out["even.bias"] = named["even.weight"], named["even.bias"]
    for name in layers:
        out[name], out[f"{name}.bias"] = named[f"{name}.weight"].T, named[f"{name}.bias"]
    return out
