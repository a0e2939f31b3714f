"""The acoustic network: a factored time-delay network (TDNN-F) as in small Vosk models, without the
i-vector input.

Shapes: in (batch, frames, 40) cepstra at 100 frames a second, padded by ``CONTEXT`` frames on either side;
out (batch, frames / 3, pdfs) log-likelihood-like scores at 33 frames a second. Weights have Kaldi's layout
(out, taps * in).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional

CEPSTRA, WIDTH, NECK, LAST, SUBSAMPLED = 40, 768, 64, 15, 5
"""Cepstra a frame; width of layers and of their bottlenecks; last factored layer; the layer that keeps
each third frame."""
CONTEXT = 4 + 3 * (LAST - SUBSAMPLED)
BYPASS = 0.66


class BatchNorm(nn.Module):
    """Normalization by running mean and variance, without scale and offset, as Kaldi's."""

    def __init__(self, width: int, epsilon: float = 1e-3) -> None:
        super().__init__()
        self.mean: Tensor
        self.variance: Tensor
        self.register_buffer("mean", torch.zeros(width))
        self.register_buffer("variance", torch.ones(width))
        self.epsilon = epsilon

    def forward(self, x: Tensor) -> Tensor:
        """Normalize the last axis."""
        flat = x.reshape(-1, x.shape[-1])
        out = functional.batch_norm(
            flat, self.mean, self.variance, None, None, self.training, 0.05, self.epsilon
        )
        return out.view_as(x)


class Affine(nn.Module):
    """A linear map over one frame, or over two that lie ``step`` apart."""

    def __init__(self, out: int, width: int, *, bias: bool = True, taps: int = 1) -> None:
        super().__init__()
        self.weight = nn.Parameter(torch.randn(out, width * taps) * (width * taps) ** -0.5)
        self.bias = nn.Parameter(torch.zeros(out)) if bias else None
        self.taps = taps

    def forward(self, x: Tensor, step: int = 1) -> Tensor:
        """With two taps the result is ``step`` frames shorter."""
        if self.taps == 1:
            return functional.linear(x, self.weight, self.bias)
        half = self.weight.shape[1] // 2
        left = functional.linear(x[:, :-step], self.weight[:, :half], self.bias)
        return left + functional.linear(x[:, step:], self.weight[:, half:])


class Factored(nn.Module):
    """Bottleneck, affine map, rectifier, normalization, and a scaled bypass around them."""

    def __init__(self, taps: int) -> None:
        super().__init__()
        self.linear = Affine(NECK, WIDTH, bias=False, taps=taps)
        self.affine = Affine(WIDTH, NECK, taps=taps)
        self.norm = BatchNorm(WIDTH)
        self.taps = taps

    def forward(self, x: Tensor) -> Tensor:
        """Two taps take a frame off either end."""
        inner = x if self.taps == 1 else x[:, 1:-1]
        return inner * BYPASS + self.norm(functional.relu(self.affine(self.linear(x))))


class Network(nn.Module):
    """See the module. ``mean`` and ``deviation`` normalize the three spliced frames of the input."""

    def __init__(self, pdfs: int) -> None:
        super().__init__()
        self.mean: Tensor
        self.deviation: Tensor
        self.register_buffer("mean", torch.zeros(3 * CEPSTRA))
        self.register_buffer("deviation", torch.ones(3 * CEPSTRA))
        self.first, self.first_norm = Affine(WIDTH, 3 * CEPSTRA), BatchNorm(WIDTH)
        self.layers = nn.ModuleList(Factored(1 if i == SUBSAMPLED else 2) for i in range(2, LAST + 1))
        self.neck, self.wide = Affine(NECK, WIDTH, bias=False), Affine(WIDTH, NECK)
        self.wide_norm = BatchNorm(WIDTH)
        self.last, self.last_norm = Affine(NECK, WIDTH, bias=False), BatchNorm(NECK)
        self.output = Affine(pdfs, NECK)
        self.output.weight.data.mul_(0.1)

    def forward(self, x: Tensor) -> Tensor:
        """See the module."""
        return self.output(self.hidden(x)).float()  # type: ignore[no-any-return]

    def hidden(self, x: Tensor) -> Tensor:
        """What the last layer sees, (batch, frames / 3, NECK)."""
        x = torch.cat([x[:, :-2], x[:, 1:-1], x[:, 2:]], 2)
        x = self.first_norm(functional.relu(self.first((x - self.mean) / self.deviation)))
        for number, layer in enumerate(self.layers, start=2):
            x = layer(x[:, ::3] if number == SUBSAMPLED else x)
        x = self.wide_norm(functional.relu(self.wide(self.neck(x))))
        return self.last_norm(self.last(x))  # type: ignore[no-any-return]

    def pad(self, frames: int) -> int:
        """Frames of padded input for ``frames`` frames of output."""
        return 2 * CONTEXT + 3 * (frames - 1) + 1


def start_from(network: Network, trunk: Path) -> None:
    """Take the hidden layers of a small Vosk model with the same layout; its i-vector input is dropped.

    ``trunk`` is the ``trunk.npz`` of ``pack``: arrays named component/field. The mean and deviation of the
    network's input must be set already; they are folded into the first layer.
    """
    parts: dict[str, dict[str, Any]] = {}
    for name, values in np.load(trunk).items():
        component, field = name.split("/")
        parts.setdefault(component, {})[field] = values.astype(np.float32)
    splice, affine = parts["lda"], parts["tdnn1.affine"]
    weight = (affine["LinearParams"] @ splice["LinearParams"])[:, : 3 * CEPSTRA]
    bias = affine["LinearParams"] @ splice["BiasParams"] + affine["BiasParams"]
    network.first.weight.data = _tensor(weight) * network.deviation
    assert network.first.bias is not None
    network.first.bias.data = _tensor(bias) + _tensor(weight) @ network.mean
    _norm(network.first_norm, parts["tdnn1.batchnorm"])
    for number, layer in enumerate(network.layers, start=2):
        layer.linear.weight.data = _tensor(parts[f"tdnnf{number}.linear"]["LinearParams"])
        layer.affine.weight.data = _tensor(parts[f"tdnnf{number}.affine"]["LinearParams"])
        layer.affine.bias.data = _tensor(parts[f"tdnnf{number}.affine"]["BiasParams"])
        _norm(layer.norm, parts[f"tdnnf{number}.batchnorm"])
    network.neck.weight.data = _tensor(parts["prefinal-l"]["Params"])
    network.wide.weight.data = _tensor(parts["prefinal-chain.affine"]["LinearParams"])
    assert network.wide.bias is not None
    network.wide.bias.data = _tensor(parts["prefinal-chain.affine"]["BiasParams"])
    _norm(network.wide_norm, parts["prefinal-chain.batchnorm1"])
    network.last.weight.data = _tensor(parts["prefinal-chain.linear"]["Params"])
    _norm(network.last_norm, parts["prefinal-chain.batchnorm2"])


def _tensor(values: Any) -> Tensor:
    return torch.tensor(np.array(values, dtype=np.float32))


def _norm(norm: BatchNorm, fields: dict[str, Any]) -> None:
    norm.mean.copy_(_tensor(fields["StatsMean"]))
    norm.variance.copy_(_tensor(fields["StatsVar"]))
    norm.epsilon = 1e-3
