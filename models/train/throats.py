"""Makes other throats of recorded or synthetic voices: the same words at the same pace and pitch, with the
resonances moved, sharpened or flattened, sometimes breathed rather than voiced.

A synthesizer has few voices and people's recordings are few; resonances that lie elsewhere are much of what
tells one speaker from another. Each frame's envelope is taken from its cepstrum below the shortest pitch
period, moved along the frequencies, and the difference given back to the frame, whose phases stay.
"""

from __future__ import annotations

from dataclasses import dataclass

import torch
from torch import Tensor

SIZE, STEP = 512, 128
"""Samples of a frame and between frames."""
LIFTER = 30
"""Cepstra that make the envelope: pitch periods shorter than this many samples (530 Hz) spoil it."""
KNOTS_HZ = (0.0, 700.0, 1800.0, 3200.0, 8000.0)
"""Between these the frequencies are moved by straight lines."""
MOST_DB = 18.0


@dataclass(frozen=True, slots=True)
class Throats:
    """How far voices are changed: share of them, factor of the whole (up to 1 + ``longer`` times the
    frequency, or as much below), of each knot beside that, sharpness, share that is breathed."""

    share: float = 0.6
    longer: float = 0.3
    apart: float = 0.12
    sharper: float = 0.5
    breathed: float = 0.1

    def __call__(self, sound: Tensor, rng: torch.Generator) -> Tensor:
        """Sound (batch, samples) from other throats, a throat for each."""
        batch, samples = sound.shape
        window = torch.hann_window(SIZE, device=sound.device)
        frames = torch.stft(sound, SIZE, STEP, window=window, return_complex=True)
        envelope = envelopes(frames)
        moved = envelope.gather(1, _moved(self._factors(batch, rng), frames.shape[1]).expand(envelope.shape))
        middle = moved.mean(1, keepdim=True)
        sharp = 1 + self._spread(batch, 1, rng)[:, :, None] * self.sharper
        change = (middle + (moved - middle) * sharp - envelope).clamp(-MOST_DB / 8.686, MOST_DB / 8.686)
        chosen = (torch.rand(batch, generator=rng, device=sound.device) < self.share)[:, None, None]
        frames = frames * torch.where(chosen, change, torch.zeros_like(change)).exp()
        frames = self._breath(frames, chosen, rng)
        return torch.istft(frames, SIZE, STEP, window=window, length=samples)

    def _factors(self, batch: int, rng: torch.Generator) -> Tensor:
        """Factors of frequency at the knots, (batch, knots)."""
        whole = torch.exp(self._spread(batch, 1, rng) * torch.log1p(torch.tensor(self.longer)))
        return whole * (1 + self._spread(batch, len(KNOTS_HZ), rng) * self.apart)

    def _spread(self, batch: int, many: int, rng: torch.Generator) -> Tensor:
        return torch.rand(batch, many, generator=rng, device=rng.device) * 2 - 1

    def _breath(self, frames: Tensor, chosen: Tensor, rng: torch.Generator) -> Tensor:
        """Some voices with phases drawn at random for a part of their sound."""
        batch = len(frames)
        part = torch.rand(batch, 1, 1, generator=rng, device=frames.device)
        some = torch.rand(batch, 1, 1, generator=rng, device=frames.device) < self.breathed
        part = part * (some & chosen)
        phase = torch.rand(frames.shape, generator=rng, device=frames.device) * 2 * torch.pi
        return frames * (1 - part) + torch.polar(frames.abs(), phase) * part


def envelopes(frames: Tensor) -> Tensor:
    """Natural log of the smooth envelope of frames (batch, bins, frames), of the same shape."""
    power = frames.abs().square()
    floor = 1e-5 * power.mean((1, 2), keepdim=True) + 1e-9
    cepstra = torch.fft.irfft(torch.log(power + floor), SIZE, dim=1)
    cepstra[:, LIFTER : SIZE - LIFTER + 1] = 0
    return 0.5 * torch.fft.rfft(cepstra, dim=1).real


def _moved(factors: Tensor, bins: int) -> Tensor:
    """For each bin the bin whose envelope it takes, (batch, bins, 1)."""
    knots = torch.tensor(KNOTS_HZ, device=factors.device) / KNOTS_HZ[-1] * (bins - 1)
    at = torch.arange(bins, device=factors.device, dtype=torch.float32)
    right = torch.bucketize(at, knots[1:-1].contiguous()) + 1
    share = (at - knots[right - 1]) / (knots[right] - knots[right - 1])
    factor = factors[:, right - 1] * (1 - share) + factors[:, right] * share
    return (at * factor).round().long().clamp(max=bins - 1)[:, :, None]
