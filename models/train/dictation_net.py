"""The bundled dictation model as a network in PyTorch, in floats, for tuning its encoder.

Sound in [-1, 1] at 16 kHz to three convolutions (384 samples a frame), six layers of attention; then six
decoder layers that say the tokens one after the other. Names of weights are those in the model's files.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

WIDTH, HEADS, LAYERS, VOCABULARY = 288, 8, 6, 32_768
_HEAD, _TURNED = WIDTH // HEADS, 32
"""Width of a head, and how much of it is turned by the position."""


def frames(samples: Tensor) -> Tensor:
    """Frames that the encoder makes of so many samples."""
    return _convolved(_convolved(_after_first(samples), 7, 3), 3, 2)


def _after_first(samples: Tensor) -> Tensor:
    return _convolved(samples, 127, 64)


def _convolved(count: Tensor, width: int, step: int) -> Tensor:
    return (count - width).div(step, rounding_mode="floor") + 1


def turned(x: Tensor) -> Tensor:
    """Queries or keys (batch, heads, places, width), turned by their places."""
    rates = 1e4 ** (-torch.arange(0, _TURNED, 2, device=x.device, dtype=torch.float32) / _TURNED)
    angle = torch.arange(x.shape[2], device=x.device, dtype=torch.float32)[:, None] * rates
    cos, sin = angle.cos().to(x.dtype), angle.sin().to(x.dtype)
    even, odd = x[..., :_TURNED:2], x[..., 1:_TURNED:2]
    pairs = torch.stack([even * cos - odd * sin, odd * cos + even * sin], -1).flatten(-2)
    return torch.cat([pairs, x[..., _TURNED:]], -1)


class Attention(nn.Module):
    """Attention of ``x`` to itself or to another row."""

    def __init__(self) -> None:
        super().__init__()
        for name in ("q_proj", "k_proj", "v_proj", "o_proj"):
            setattr(self, name, nn.Linear(WIDTH, WIDTH, bias=False))

    def forward(
        self, x: Tensor, to: Tensor, mask: Tensor | None, *, places: bool, causal: bool = False
    ) -> Tensor:
        """``mask`` (batch, 1, 1, places) tells which places of ``to`` there are."""
        q, k, v = (
            layer(of).unflatten(2, (HEADS, _HEAD)).transpose(1, 2)
            for layer, of in ((self.q_proj, x), (self.k_proj, to), (self.v_proj, to))
        )
        if places:
            q, k = turned(q), turned(k)
        out = functional.scaled_dot_product_attention(q, k, v, mask, is_causal=causal, scale=_HEAD**-0.5)
        found: Tensor = self.o_proj(out.transpose(1, 2).flatten(2))
        return found


class Feed(nn.Module):
    """The two layers after attention; gated in the decoder."""

    def __init__(self, gated: bool) -> None:
        super().__init__()
        self.gated = gated
        self.fc1 = nn.Linear(WIDTH, 4 * WIDTH * (2 if gated else 1))
        self.fc2 = nn.Linear(4 * WIDTH, WIDTH)

    def forward(self, x: Tensor) -> Tensor:
        """Of the same shape."""
        y = self.fc1(x)
        if self.gated:
            y, gate = y.chunk(2, -1)
            y = y * functional.silu(gate)
        else:
            y = functional.gelu(y)
        out: Tensor = self.fc2(y)
        return out


def _norm() -> nn.LayerNorm:
    return nn.LayerNorm(WIDTH, bias=False)


class EncoderLayer(nn.Module):
    """Attention and feed."""

    def __init__(self) -> None:
        super().__init__()
        self.input_layernorm, self.post_attention_layernorm = _norm(), _norm()
        self.self_attn, self.mlp = Attention(), Feed(False)

    def forward(self, x: Tensor, mask: Tensor) -> Tensor:
        """Of the same shape."""
        y = self.input_layernorm(x)
        x = x + self.self_attn(y, y, mask, places=True)
        out: Tensor = x + self.mlp(self.post_attention_layernorm(x))
        return out


class DecoderLayer(nn.Module):
    """Attention to what was said, to the sound, and feed."""

    def __init__(self) -> None:
        super().__init__()
        self.input_layernorm, self.post_attention_layernorm, self.final_layernorm = _norm(), _norm(), _norm()
        self.self_attn, self.encoder_attn, self.mlp = Attention(), Attention(), Feed(True)

    def forward(self, x: Tensor, sound: Tensor, mask: Tensor) -> Tensor:
        """Of the same shape."""
        y = self.input_layernorm(x)
        x = x + self.self_attn(y, y, None, places=True, causal=True)
        x = x + self.encoder_attn(self.post_attention_layernorm(x), sound, mask, places=False)
        out: Tensor = x + self.mlp(self.final_layernorm(x))
        return out


class Encoder(nn.Module):
    """Sound to frames."""

    def __init__(self) -> None:
        super().__init__()
        self.conv1 = nn.Conv1d(1, WIDTH, 127, 64, bias=False)
        self.groupnorm = nn.GroupNorm(1, WIDTH)
        self.conv2 = nn.Conv1d(WIDTH, 2 * WIDTH, 7, 3)
        self.conv3 = nn.Conv1d(2 * WIDTH, WIDTH, 3, 2)
        self.layers = nn.ModuleList(EncoderLayer() for _ in range(LAYERS))
        self.layer_norm = _norm()

    def forward(self, sound: Tensor, samples: Tensor) -> tuple[Tensor, Tensor]:
        """Frames of (batch, samples), and which there are, (batch, frames)."""
        x = self._alone(torch.tanh(self.conv1(sound[:, None])), _after_first(samples))
        x = functional.gelu(self.conv3(functional.gelu(self.conv2(x)))).transpose(1, 2)
        there = torch.arange(x.shape[1], device=x.device)[None] < frames(samples)[:, None]
        for layer in self.layers:
            x = layer(x, there[:, None, None])
        return self.layer_norm(x), there

    def _alone(self, x: Tensor, count: Tensor) -> Tensor:
        """The first norm, over each clip's own frames, as when it is heard alone."""
        there = (torch.arange(x.shape[2], device=x.device)[None] < count[:, None])[:, None]
        values = count[:, None, None] * x.shape[1]
        full = x.float()
        mean = (full * there).sum((1, 2), keepdim=True) / values
        spread = ((full - mean).square() * there).sum((1, 2), keepdim=True) / values
        even = (full - mean) * (spread + self.groupnorm.eps).rsqrt()
        out: Tensor = even * self.groupnorm.weight[:, None] + self.groupnorm.bias[:, None]
        return out.to(x.dtype)


class Decoder(nn.Module):
    """Tokens said so far and frames to what comes next."""

    def __init__(self) -> None:
        super().__init__()
        self.embed_tokens = nn.Embedding(VOCABULARY, WIDTH)
        self.layers = nn.ModuleList(DecoderLayer() for _ in range(LAYERS))
        self.norm = _norm()

    def forward(self, ids: Tensor, sound: Tensor, there: Tensor) -> Tensor:
        """Scores (batch, tokens, vocabulary) of what follows each of ``ids``."""
        x = self.embed_tokens(ids)
        for layer in self.layers:
            x = layer(x, sound, there[:, None, None])
        return functional.linear(self.norm(x), self.embed_tokens.weight)
