"""Spoils clean speech the way a shop does, many clips at once on any device: pace, room, tone, noise,
loudness.

The noises here are made from nothing, or are other training clips talking at once; recorded ones, none of
them of a shop, come from ``models.train.recorded``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from models.train.throats import Throats

RATE = 16_000
NOISE_SAMPLES = 10 * RATE
Floats = NDArray[np.float32]


def made_noise(seed: int, count: int) -> Floats:
    """``count`` noises of ten seconds, 1 rms: coloured hiss, repeated blows, motors."""
    rng = np.random.default_rng(seed)
    kinds = (_coloured, _blows, _motor)
    noises = [kinds[int(rng.integers(3))](NOISE_SAMPLES, rng) for _ in range(count)]
    return np.stack([noise / (noise.std() + 1e-6) for noise in noises]).astype(np.float32)


def _coloured(samples: int, rng: np.random.Generator) -> Floats:
    """Hiss with a slope and a few resonances."""
    bands = np.fft.rfft(rng.standard_normal(samples))
    hertz = np.arange(len(bands)) / samples * RATE + 20.0
    shape = (hertz / 500) ** -rng.uniform(0, 1.3)
    for _ in range(rng.integers(0, 4)):
        centre = rng.uniform(100, 5000)
        shape *= 1 + rng.uniform(1, 8) * np.exp(
            -0.5 * ((hertz - centre) / (centre * rng.uniform(0.05, 0.4))) ** 2
        )
    return np.asarray(np.fft.irfft(bands * shape, samples), np.float32)


def _blows(samples: int, rng: np.random.Generator) -> Floats:
    """Ringing hits of tools: runs of up to forty, 2 to 40 a second or far apart, with pauses."""
    sound = np.zeros(samples)
    at = 0
    while at < samples:
        length = int(rng.uniform(0.02, 0.15) * RATE)
        time = np.arange(length) / RATE
        hit = rng.standard_normal(length) * np.exp(-time * rng.uniform(50, 300))
        for _ in range(4):
            tone = np.sin(2 * np.pi * rng.uniform(300, 7000) * time + rng.uniform(0, 6))
            hit += rng.uniform(0.2, 1) * tone * np.exp(-time * rng.uniform(20, 200))
        every = 1 / rng.uniform(2, 40) if rng.random() < 0.7 else rng.uniform(0.1, 1.0)
        for _ in range(rng.integers(1, 40)):
            if at >= samples:
                break
            end = min(samples, at + length)
            sound[at:end] += (hit * rng.uniform(0.5, 1))[: end - at]
            at += max(200, int(every * rng.uniform(0.9, 1.1) * RATE))
        at += int(rng.uniform(0, 1.2) * RATE)
    return (sound + 0.02 * _coloured(samples, rng)).astype(np.float32)


def _motor(samples: int, rng: np.random.Generator) -> Floats:
    """Harmonics of a slowly wobbling speed over hiss that swells with it."""
    time = np.arange(samples) / RATE
    wobble = 1 + 0.05 * np.sin(2 * np.pi * rng.uniform(0.1, 3) * time + rng.uniform(0, 6))
    phase = 2 * np.pi * np.cumsum(rng.uniform(15, 250) * wobble) / RATE
    hum = np.zeros(samples)
    for k in range(1, 24):
        hum += rng.uniform(0, 1) * k ** -rng.uniform(0.2, 1.0) * np.sin(k * phase + rng.uniform(0, 6))
    hiss = _coloured(samples, rng)
    swell = 1 + rng.uniform(0, 0.8) * np.sin(phase)
    loud = rng.uniform(0.2, 2)
    return (hum / (hum.std() + 1e-6) + loud * hiss / (hiss.std() + 1e-6) * swell).astype(np.float32)


@dataclass(frozen=True, slots=True)
class Cut:
    """Where a clip goes: its first sample and length in the store, pace, silence before and after in samples.

    A clip of length 0 is noise alone.
    """

    first: int
    samples: int
    pace: float
    before: int
    after: int

    @property
    def length(self) -> int:
        """Samples when spoken at its pace between its silences."""
        return self.before + int(self.samples / self.pace) + self.after


class Spoiler:
    """Draws spoiled batches from a store of clips, (samples,) int16, and a bank of noises, (count,
    samples); from other throats if they are given."""

    def __init__(
        self,
        store: Tensor,
        bank: Tensor,
        noisy_share: float = 0.75,
        seed: int = 0,
        throats: Throats | None = None,
    ) -> None:
        self._store, self._bank, self._noisy, self._throats = store, bank, noisy_share, throats
        self._rng = torch.Generator(device=store.device)
        self._rng.manual_seed(seed)

    def plain(self, cuts: list[Cut], samples: int) -> Tensor:
        """The clips (batch, samples) at their pace and place, as they are, in the range of 16-bit sound."""
        device = self._store.device
        first, count = (
            torch.tensor([getattr(c, k) for c in cuts], device=device)[:, None] for k in ("first", "samples")
        )
        before = torch.tensor([c.before for c in cuts], device=device)[:, None]
        pace = torch.tensor([c.pace for c in cuts], device=device, dtype=torch.float64)[:, None]
        place = (torch.arange(samples, device=device)[None] - before) * pace
        left = place.floor().long()
        inside = (left >= 0) & (left + 1 < count)
        left = left.clamp(min=0)
        at = (first + torch.minimum(left, (count - 2).clamp(min=0))).clamp(max=len(self._store) - 2)
        share = (place - place.floor()).float()
        return (self._store[at].float() * (1 - share) + self._store[at + 1].float() * share) * inside

    def spoiled(self, cuts: list[Cut], samples: int) -> Tensor:
        """The clips in a room with a tone, noise and loudness of their own."""
        speech = self.plain(cuts, samples)
        speech = self._room(self._throats(speech, self._rng) if self._throats else speech)
        power = speech.square().sum(1) / torch.tensor(
            [max(1.0, c.samples / c.pace) for c in cuts], device=speech.device
        )
        noise = self._noise(len(cuts), samples)
        noisy = self._uniform(len(cuts), 0, 1) < self._noisy
        ratio = torch.where(noisy, self._uniform(len(cuts), 0, 18), self._uniform(len(cuts), 25, 55))
        silent = torch.tensor([c.samples == 0 for c in cuts], device=speech.device)
        power = torch.where(silent, torch.ones_like(power), power.clamp(min=1e-3))
        mixed = (
            speech
            + noise * (power / noise.square().mean(1).clamp(min=1e-9) / 10 ** (ratio / 10)).sqrt()[:, None]
        )
        loud = 32767 * 10 ** (self._uniform(len(cuts), -26, -0.5) / 20)
        return mixed / mixed.abs().amax(1).clamp(min=1e-6)[:, None] * loud[:, None]

    def _uniform(self, count: int, low: float, high: float) -> Tensor:
        return torch.rand(count, generator=self._rng, device=self._store.device) * (high - low) + low

    def _room(self, speech: Tensor) -> Tensor:
        """A tone curve for most clips and an echo for some, by one transform."""
        batch, samples = speech.shape
        size = 1 << (samples + RATE // 3 - 1).bit_length()
        knots = torch.randn(batch, 12, generator=self._rng, device=speech.device).cumsum(1) * 2.0
        knots[:, 0] -= self._uniform(batch, 0, 15)
        knots = (knots - knots.mean(1, keepdim=True)).clamp(-20, 12) * (self._uniform(batch, 0, 1) < 0.7)[
            :, None
        ]
        curve = torch.nn.functional.interpolate(
            knots[:, None], size // 2 + 1, mode="linear", align_corners=True
        )[:, 0]
        length = RATE // 3
        time = torch.arange(length, device=speech.device)[None] / RATE
        tail = torch.randn(batch, length, generator=self._rng, device=speech.device)
        tail = tail * torch.exp(-6.9 * time / self._uniform(batch, 0.05, 0.3)[:, None])
        tail = tail * (self._uniform(batch, 0.03, 0.2) * (self._uniform(batch, 0, 1) < 0.4))[:, None]
        tail[:, 0] = 1
        spectrum = torch.fft.rfft(speech, size) * torch.fft.rfft(tail, size) * 10 ** (curve / 20)
        return torch.fft.irfft(spectrum, size)[:, :samples]

    def _noise(self, batch: int, samples: int) -> Tensor:
        """Noise from the bank from a random place on, at a random pace, sometimes two at once."""
        count, length = self._bank.shape
        device = self._bank.device
        noise = torch.zeros(batch, samples, device=device)
        for second in (False, True):
            row = torch.randint(count, (batch, 1), generator=self._rng, device=device)
            start = torch.randint(length, (batch, 1), generator=self._rng, device=device)
            pace = self._uniform(batch, 0.85, 1.15)[:, None]
            at = (start + (torch.arange(samples, device=device)[None] * pace).long()) % length
            share = (
                self._uniform(batch, 0.2, 1.0) * (self._uniform(batch, 0, 1) < 0.25)
                if second
                else torch.ones(batch, device=device)
            )
            noise = noise + self._bank[row, at].float() * share[:, None]
        return noise


def babble(store: Tensor, clips: list[tuple[int, int]], count: int, seed: int) -> Tensor:
    """Noises of two to eight training clips talking at once, (count, samples), 1 rms."""
    rng = np.random.default_rng(seed)
    out = torch.zeros(count, NOISE_SAMPLES, device=store.device)
    for number in range(count):
        for _ in range(int(rng.integers(2, 9))):
            first, samples = clips[int(rng.integers(len(clips)))]
            voice = store[first : first + samples].float()
            turns = NOISE_SAMPLES // samples + 1
            out[number] += (voice / (voice.std() + 1)).repeat(turns)[:NOISE_SAMPLES].roll(
                int(rng.integers(NOISE_SAMPLES))
            ) * rng.uniform(0.4, 1)
        out[number] /= out[number].std() + 1e-6
    return out
