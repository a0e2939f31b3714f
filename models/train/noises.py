"""The bank of noises that clips are spoiled with: made ones, recorded ones where the PACK has them, people
talking at once, and radios."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch
from torch import Tensor

from models.train.augment import NOISE_SAMPLES, RATE, babble, made_noise
from models.train.clips import Clip
from models.train.recorded import read


def bank(pack: Path, store: Tensor, clips: Sequence[Clip], workers: int, pool: Any) -> Tensor:
    """Noises of ten seconds, (count, samples), 1 rms, on the store's device, in half floats on a GPU."""
    made = np.concatenate(pool.starmap(made_noise, [(k, 12) for k in range(3 * workers)]))
    spoken = [(clip.first, clip.samples) for clip in clips if clip.human and clip.samples > RATE]
    talk = babble(store, spoken, len(made) // 4, 4)
    found = [torch.from_numpy(made).to(store.device), talk]
    recorded = torch.from_numpy(read(pack)).to(store.device)
    if len(recorded):
        found += [recorded, radio(store, spoken, recorded, len(recorded) // 6, 6)]
    whole = torch.cat(found)
    return whole.half() if store.device.type != "cpu" else whole


def radio(store: Tensor, spoken: list[tuple[int, int]], behind: Tensor, count: int, seed: int) -> Tensor:
    """Noises of one person after the other talking out of a small loudspeaker over something else,
    overdriven a little, (count, samples), 1 rms."""
    rng = np.random.default_rng(seed)
    hertz = torch.fft.rfftfreq(NOISE_SAMPLES, 1 / RATE, device=store.device)
    made = []
    for _ in range(count):
        row = torch.zeros(NOISE_SAMPLES, device=store.device)
        at = -int(rng.integers(2 * RATE))
        while at < NOISE_SAMPLES:
            first, samples = spoken[int(rng.integers(len(spoken)))]
            voice = store[first : first + samples].float()
            start, end = max(0, at), max(0, min(NOISE_SAMPLES, at + samples))
            row[start:end] += (voice / (voice.std() + 1))[start - at : end - at]
            at += samples + int(rng.uniform(0, 0.8) * RATE)
        other = behind[int(rng.integers(len(behind)))].roll(int(rng.integers(NOISE_SAMPLES)))
        row = row + other * rng.uniform(0, 0.5)
        low, high = rng.uniform(80, 500), rng.uniform(2500, 7000)
        kept = 1 / (1 + (low / (hertz + 1)) ** 4) / (1 + (hertz / high) ** 8)
        row = torch.fft.irfft(torch.fft.rfft(row) * kept, NOISE_SAMPLES)
        row = torch.tanh(row / row.std().clamp(min=1e-6) * rng.uniform(0.3, 2))
        made.append(row / (row.std() + 1e-6))
    return torch.stack(made)
